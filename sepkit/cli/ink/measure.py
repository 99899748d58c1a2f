"""`sepkit ink measure`: make a shelf ink from a draw-down or a swatch."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import Number, TerminalProgress
from sepkit.cli.ink.common import emit, lab_list, lab_text, output_options, say_kept
from sepkit.cli.show import colour_code, findings_json, show_findings
from sepkit.errors import UsageError
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.measure import MeasuredInk, Role

OPACITIES = ("opaque", "good", "medium", "semi", "transparent")


@click.command()
@click.argument("name")
@click.option(
    "--data",
    type=click.Path(path_type=Path),
    help="CSV or CxF3 whose names say what each row is: over "
    "black, over white, black card, white card, masstone, tint 10.",
)
@click.option(
    "--photo",
    "photos",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Photograph of the card of sepkit ink card with draw-downs; repeat it for several.",
)
@click.option(
    "--chart", metavar="FILE", help="Values of a chart of 24 patches beside the card: CSV, CxF3, or published."
)
@click.option("--over-black", help="Colour of the film over black card.")
@click.option("--over-white", help="Colour of the film over white card.")
@click.option("--black-card", help="Colour of the bare black card.")
@click.option("--white-card", help="Colour of the bare white card.")
@click.option("--tint", "tints", multiple=True, metavar="PERCENT:COLOUR", help="A tint in white, over white card.")
@click.option("--swatch", help="Colour of an opaque film.")
@click.option("--opacity", type=click.Choice(OPACITIES), help="How one coat hides, for a swatch [default: good].")
@click.option("--white", default="white", show_default=True, help="White ink of the tints.")
@click.option("--density", "density_g_ml", type=Number(0.3, 5), help="Grams of one ml [default: 1.2].")
@click.option("--kind", default="plastisol", show_default=True, help="plastisol, water-based, ...")
@click.option("--coats", type=Number(0.1, 6), default=1.0, show_default=True, help="Coats of the draw-down.")
@click.option("--specular-included", is_flag=True, help="The instrument includes gloss (sphere, SCI).")
@click.option("--save/--no-save", default=True, help="Keep it on your shelf [default: keep].")
@click.option("--force", is_flag=True, help="Replace an ink of that name.")
@output_options
def measure(
    name: str,
    *,
    data: Path | None,
    photos: tuple[Path, ...],
    chart: str | None,
    over_black: str | None,
    over_white: str | None,
    black_card: str | None,
    white_card: str | None,
    tints: tuple[str, ...],
    swatch: str | None,
    opacity: str | None,
    white: str,
    density_g_ml: float | None,
    kind: str,
    coats: float,
    specular_included: bool,
    save: bool,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make an ink from what you can measure, and say how far to trust it.

    Best: spectra over black and white card and one white tint. Then Lab of the same. Then a swatch and an opacity word.
    A photograph of the card with a chart of known values stands between; without a chart it tells hiding only.

    \b
    Examples:
      sepkit ink measure "shop red" --data red.csv --density 1.18
      sepkit ink measure "shop red" --over-black "lab(35 50 25)" --over-white "lab(42 60 33)" --tint "10:#ec777f"
      sepkit ink measure "shop red" --photo card.jpg --chart published
      sepkit ink measure "shop red" --swatch "#c41f30" --opacity good
    """
    from sepkit.workshop.inks.measure import MeasureRequest, measure_ink

    films: dict[Role, str | None] = {
        "over black": over_black,
        "over white": over_white,
        "black card": black_card,
        "white card": white_card,
        "masstone": swatch,
    }
    request = MeasureRequest(
        name,
        films={role: text for role, text in films.items() if text},
        tints=tuple(_tint(text) for text in tints),
        data=data,
        opacity=opacity,
        white=white,
        density_g_ml=density_g_ml,
        kind=kind,
        coats=coats,
        specular_included=specular_included,
        photos=photos,
        chart=chart,
    )
    progress = TerminalProgress(quiet=quiet or as_json)
    try:
        found = measure_ink(request, open_shelf(), save=save, force=force, progress=progress)
    finally:
        progress.end()
    emit(_payload(found), _lines(found), as_json=as_json)
    show_findings(found.findings, quiet=quiet)
    say_kept(found.kept, quiet=quiet)


def _tint(text: str) -> tuple[float, str]:
    """Return (% by weight, colour) of text such as ``10:#ec777f``. Raises UsageError."""
    number, colon, colour = text.partition(":")
    if not colon or not re.fullmatch(r"\s*\d+(\.\d+)?\s*%?\s*", number):
        raise UsageError(f'"{text}" is not a tint', where="--tint", hint="write 10:#ec777f, percent by weight first")
    return float(number.strip().rstrip("%")), colour


def _payload(found: MeasuredInk) -> dict[str, object]:
    ink, trust = found.found.ink, found.found
    return {
        "schema": "sepkit.ink-measure/1",
        "name": ink.name,
        "status": ink.status,
        "srgb": colour_code(ink.srgb),
        "density_g_ml": ink.density_g_ml,
        "source": ink.source,
        "fit_mean_de00": round(trust.mean_de00, 3),
        "fit_worst_de00": round(trust.worst_de00, 3),
        "expect_print_de00": trust.print_band_de00,
        "expect_tint_de00": trust.tint_band_de00,
        "file": None if found.kept is None else str(found.kept.file),
        **_photo_json(found),
        "findings": findings_json(found.findings),
    }


def _photo_json(found: MeasuredInk) -> dict[str, object]:
    read = found.photographed
    if read is None:
        return {}
    ratio = read.contrast_ratio
    return {
        "photograph": {
            "source": read.source,
            "shown_on": "simulated photographs only",
            "band_de00": round(read.band_de00, 1),
            "too_wide": read.too_wide,
            "contrast_ratio": None if ratio is None else round(ratio, 3),
            "contrast_ratio_band": read.ratio_band,
            "colours": [
                {"place": one.place.name, "percent": one.place.percent or None, "lab": lab_list(one.lab)}
                for one in read.colours
            ],
        }
    }


def _lines(found: MeasuredInk) -> list[str]:
    ink, trust = found.found.ink, found.found
    fit = f"explains the films to ΔE00 {trust.mean_de00:.2f} (worst {trust.worst_de00:.2f})"
    return [
        f"{ink.name}: {ink.status}, from {ink.source}",
        f"opaque film {lab_text(found.look.lab)}; one coat hides {found.contrast_ratio:.2f}",
        f"{fit}; expect ±{trust.print_band_de00:g} on a print, ±{trust.tint_band_de00:g} in a tint",
        *_photo_lines(found),
        *([] if found.kept is None else [str(found.kept.file)]),
    ]


def _photo_lines(found: MeasuredInk) -> list[str]:
    read = found.photographed
    if read is None:
        return []
    kept = "not kept: " if read.too_wide else ""
    return [f"{kept}colours from {read.source}, ± ΔE00 {read.band_de00:.0f}; tried on simulated photographs only"]
