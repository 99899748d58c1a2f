"""`sepkit ink measure`: make a shelf ink from a draw-down or a swatch."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import Number
from sepkit.cli.ink.common import emit, findings_json, lab_text, output_options, say_findings, say_kept
from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.files.shelf.colours import Colour
    from sepkit.inks.drawdown import DrawDown, Identified
    from sepkit.model import Ink

ROLES = ("over black", "over white", "black card", "white card", "masstone")
OPACITIES = ("opaque", "good", "medium", "semi", "transparent")


@click.command()
@click.argument("name")
@click.option(
    "--data",
    type=click.Path(path_type=Path),
    help="CSV or CxF3 whose names say what each row is: over "
    "black, over white, black card, white card, masstone, tint 10.",
)
@click.option("--over-black", help="Colour of the film over black card.")
@click.option("--over-white", help="Colour of the film over white card.")
@click.option("--black-card", help="Colour of the bare black card.")
@click.option("--white-card", help="Colour of the bare white card.")
@click.option("--tint", "tints", multiple=True, metavar="PERCENT:COLOUR", help="A tint in white, over white card.")
@click.option("--swatch", help="Colour of an opaque film.")
@click.option("--opacity", type=click.Choice(OPACITIES), help="How one coat hides, for a swatch [default: good].")
@click.option("--white", "white_name", default="white", show_default=True, help="White ink of the tints.")
@click.option("--density", "density_g_ml", type=Number(0.3, 5), help="Grams of one ml [default: 1.2].")
@click.option("--kind", default="plastisol", show_default=True, help="plastisol, water-based, ...")
@click.option("--coats", type=Number(0.1, 6), default=1.0, show_default=True, help="Coats of the draw-down.")
@click.option("--specular-included", is_flag=True, help="The instrument includes gloss (sphere, SCI).")
@click.option("--save/--no-save", default=True, help="Keep it on your shelf [default: keep].")
@click.option("--force", is_flag=True, help="Replace an ink of that name.")
@output_options
def measure(name: str, *, as_json: bool, quiet: bool, **o: Any) -> None:
    """Make an ink from what you can measure, and say how far to trust it.

    Best: spectra over black and white card and one white tint. Then Lab of the same. Then a swatch and an opacity word.

    \b
    Examples:
      sepkit ink measure "shop red" --data red.csv --density 1.18
      sepkit ink measure "shop red" --over-black "lab(35 50 25)" --over-white "lab(42 60 33)" --tint "10:#ec777f"
      sepkit ink measure "shop red" --swatch "#c41f30" --opacity good
    """
    from sepkit.files.folders.write import replace_file
    from sepkit.files.shelf.inkfile import find_ink, ink_toml, new_ink_path, today
    from sepkit.inks.drawdown import identify

    path = new_ink_path(name)
    films, tints, colours = _measurements(o)
    white: Ink | None = find_ink(o["white_name"]) if tints else None
    data = replace(_draw_down(films, tints, colours, o), date=today())
    only_swatch = set(films) == {"masstone"} and not tints
    found = identify(
        " ".join(name.split()),
        data,
        white=white,
        opacity=o["opacity"] or ("good" if only_swatch else None),
        kind=o["kind"],
        density_g_ml=o["density_g_ml"] or 1.2,
    )
    findings = [f for c in colours for f in c.findings] + list(found.findings)
    if o["density_g_ml"] is None:
        findings.append(_density_finding())
    kept = path if o["save"] else None
    if kept is not None:
        with replace_file(kept, force=o["force"]) as part:
            part.write_text(ink_toml(found.ink), encoding="utf-8")
    payload = _payload(found, kept) | {"findings": findings_json(findings)}
    emit(payload, _lines(found, kept), as_json=as_json)
    say_findings(findings, quiet=quiet)
    if kept is not None:
        say_kept(name, kept, quiet=quiet)


def _measurements(o: dict[str, Any]) -> tuple[dict[str, Colour], list[tuple[float, Colour]], list[Colour]]:
    """Return films by role, tints, and all colours given by options and the data file."""
    from sepkit.files.shelf.colours import parse_colour, read_colours

    films: dict[str, Colour] = {}
    tints: list[tuple[float, Colour]] = []
    if o["data"] is not None:
        for colour in read_colours(o["data"]):
            role = " ".join(colour.target.name.lower().replace("-", " ").replace("_", " ").split())
            if match := re.fullmatch(r"tint (\d+(?:\.\d+)?) ?%?", role):
                tints.append((float(match[1]), colour))
            elif role in ROLES:
                films[role] = colour
            else:
                hint = "one of " + ", ".join(ROLES) + ", tint 10"
                raise UsageError(f'"{colour.target.name}" says not what it is', where=o["data"].name, hint=hint)
    options = {role: o[role.replace(" ", "_")] for role in ROLES[:4]} | {"masstone": o["swatch"]}
    for role, text in options.items():
        if text:
            films[role] = parse_colour(text, what="--" + role.replace(" ", "-"))
    for text in o["tints"]:
        number, colon, colour_text = text.partition(":")
        if not colon or not re.fullmatch(r"\s*\d+(\.\d+)?\s*%?\s*", number):
            raise UsageError(
                f'"{text}" is not a tint', where="--tint", hint="write 10:#ec777f, percent by weight first"
            )
        tints.append((float(number.strip().rstrip("%")), parse_colour(colour_text, what="--tint")))
    return films, tints, [*films.values(), *(c for _, c in tints)]


def _draw_down(
    films: dict[str, Colour], tints: list[tuple[float, Colour]], colours: list[Colour], o: dict[str, Any]
) -> DrawDown:
    from sepkit.inks.drawdown import DrawDown

    look = {role: colour.target.reflectance for role, colour in films.items()}
    return DrawDown(
        over_black=look.get("over black"),
        over_white=look.get("over white"),
        black_card=look.get("black card"),
        white_card=look.get("white card"),
        masstone=look.get("masstone"),
        tints=tuple((percent, colour.target.reflectance) for percent, colour in tints),
        coats=o["coats"],
        spectra=bool(colours) and all(c.target.measured_spectrum for c in colours),
        geometry="specular included" if o["specular_included"] else "45:0",
    )


def _density_finding() -> Any:
    from sepkit.model import Finding

    text = "density was taken as 1.2 g/ml; 20 % wrong shifts a small tint by about 1 ΔE00"
    return Finding("density-assumed", "warn", text, "weigh 10 ml and give --density")


def _payload(found: Identified, kept: Path | None) -> dict[str, Any]:
    from sepkit.units import to_hex

    return {
        "schema": "sepkit.ink-measure/1",
        "name": found.ink.name,
        "status": found.ink.status,
        "srgb": to_hex(found.ink.srgb),
        "density_g_ml": found.ink.density_g_ml,
        "source": found.ink.source,
        "fit_mean_de00": round(found.mean_de00, 3),
        "fit_worst_de00": round(found.worst_de00, 3),
        "expect_print_de00": found.print_band_de00,
        "expect_tint_de00": found.tint_band_de00,
        "file": None if kept is None else str(kept),
    }


def _lines(found: Identified, kept: Path | None) -> list[str]:
    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.inks.identify import contrast_ratio
    from sepkit.inks.layers import masstone

    ink = found.ink
    return [
        f"{ink.name}: {ink.status}, from {ink.source}",
        (
            f"opaque film {lab_text(reflectance_to_lab(masstone(ink)))}; one coat hides "
            f"{contrast_ratio(ink.absorption, ink.scattering):.2f}"
        ),
        (
            f"explains the films to ΔE00 {found.mean_de00:.2f} (worst {found.worst_de00:.2f}); expect ±"
            f"{found.print_band_de00:g} on a print, ±{found.tint_band_de00:g} in a tint"
        ),
        *([str(kept)] if kept else []),
    ]
