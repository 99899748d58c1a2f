"""`sepkit ink list` and `sepkit ink show`: the shelf."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.ink.common import chip, emit, lab_list, lab_text, output_options, srgb_hex, table

if TYPE_CHECKING:
    from sepkit.model import Ink

TINTS = (2, 5, 10, 20, 50)
CLOTHS = (("white cloth", (244, 244, 242)), ("black cloth", (26, 26, 28)))


@click.command("list")
@click.option("--out", type=click.Path(path_type=Path), help="Write a swatch card of the shelf as PNG.")
@click.option("--force", is_flag=True, help="Overwrite the PNG.")
@output_options
def list_inks(*, out: Path | None, force: bool, as_json: bool, quiet: bool) -> None:
    """List the inks of the shelf, with how each hides and tints.

    "hides" is the contrast ratio of one coat over black and over white; "5 % in white" is L* of that tint.

    \b
    Examples:
      sepkit ink list
      sepkit ink list --out shelf.png
    """
    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.files.shelf.inkfile import find_ink, ink_names
    from sepkit.inks.identify import contrast_ratio
    from sepkit.inks.layers import masstone
    from sepkit.inks.mixing import mix
    from sepkit.units import to_hex

    inks = [find_ink(name) for name in ink_names()]
    white = next((ink for ink in inks if ink.name == "white"), None)
    rows = [["name", "kind", "status", "colour", "hides", "5 % in white"]]
    data, chips = [], [" " * 4]
    for ink in inks:
        tint = None if white is None else reflectance_to_lab(masstone(mix([(white, 95.0), (ink, 5.0)])))
        hides = contrast_ratio(ink.absorption, ink.scattering)
        rows.append(
            [ink.name, ink.kind, ink.status, to_hex(ink.srgb), f"{hides:.2f}", "" if tint is None else f"{tint[0]:.0f}"]
        )
        chips.append(chip(ink.srgb))
        entry: dict[str, Any] = {
            "name": ink.name,
            "kind": ink.kind,
            "status": ink.status,
            "srgb": to_hex(ink.srgb),
            "density_g_ml": ink.density_g_ml,
            "contrast_ratio": round(hides, 3),
            "source": ink.source,
        }
        data.append(entry)
    lines = [f"{block} {line}" for block, line in zip(chips, table(rows), strict=True)]
    if out is not None:
        _write_shelf_card(inks, out, force=force)
        lines.append(str(out))
    payload = {"schema": "sepkit.ink-list/1", "inks": data, "file": None if out is None else str(out)}
    emit(payload, lines, as_json=as_json)
    if not quiet and any(ink.status == "estimated" for ink in inks):
        click.echo('estimated inks may be off by 3 to 5 ΔE00: "sepkit ink measure" replaces them by yours', err=True)


@click.command()
@click.argument("name")
@click.option("--out", type=click.Path(path_type=Path), help="Write a swatch card as PNG.")
@click.option("--force", is_flag=True, help="Overwrite the PNG.")
@output_options
def show(name: str, *, out: Path | None, force: bool, as_json: bool, quiet: bool) -> None:
    """Show one ink: its thick film (masstone), white tints, on white and on black cloth.

    \b
    Examples:
      sepkit ink show red
      sepkit ink show red --out red.png
    """
    from sepkit.colorimetry.upsampling import srgb8_to_reflectance
    from sepkit.files.ink_pictures import Swatch, save_png, swatch_rows
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.units import to_hex

    ink = find_ink(name)
    looks = _looks(ink, {cloth: srgb8_to_reflectance(rgb) for cloth, rgb in CLOTHS})
    rows = [["", "Lab D65/2", "sRGB"]]
    rows += [[label, lab_text(lab), srgb_hex(lab)] for _, label, lab in looks]
    head = f"{ink.name}: {ink.kind}, {ink.status}, {ink.density_g_ml:g} g/ml, {to_hex(ink.srgb)}"
    payload = {
        "schema": "sepkit.ink-show/1",
        "name": ink.name,
        "kind": ink.kind,
        "status": ink.status,
        "density_g_ml": ink.density_g_ml,
        "source": ink.source,
        "looks": [{"what": label, "lab": lab_list(lab), "srgb": srgb_hex(lab)} for _, label, lab in looks],
        "file": None if out is None else str(out),
    }
    if out is not None:
        card_rows = []
        for group in dict.fromkeys(group for group, _, _ in looks):
            ground = dict(CLOTHS).get(group.removeprefix("on "))
            swatches = [
                Swatch(_rgb(lab), label.removeprefix(group).strip(", ") or label, srgb_hex(lab), ground)
                for g, label, lab in looks
                if g == group
            ]
            card_rows.append((group, swatches))
        save_png(swatch_rows(head, card_rows), out, force=force)
    lines = [head, *table(rows), *([f"source: {ink.source}"] if ink.source else []), *([str(out)] if out else [])]
    emit(payload, lines, as_json=as_json)
    if not quiet and ink.status == "estimated":
        click.echo("estimated: expect 3 to 5 ΔE00 on a print, more in a tint", err=True)


def _looks(ink: Ink, cloths: dict[str, Any]) -> list[tuple[str, str, Any]]:
    """Return (group, label, Lab) of the masstone, the white tints, and prints on cloth."""
    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.inks.layers import masstone, printed_reflectance
    from sepkit.inks.mixing import mix

    out: list[tuple[str, str, Any]] = [("masstone", "masstone", reflectance_to_lab(masstone(ink)))]
    white: Ink = find_ink("white")
    if ink.name != white.name:
        for percent in TINTS:
            tint = mix([(white, 100.0 - percent), (ink, float(percent))])
            out.append(("in white", f"in white, {percent} %", reflectance_to_lab(masstone(tint))))
    for cloth, reflectance in cloths.items():
        group = f"on {cloth}"
        for coats in (1, 2):
            lab = reflectance_to_lab(printed_reflectance([(ink, float(coats))], reflectance))
            out.append((group, f"{group}, {coats} coat{'s' if coats > 1 else ''}", lab))
        based = reflectance_to_lab(printed_reflectance([(white, 1.0), (ink, 1.0)], reflectance))
        out.append((group, f"{group}, over white base", based))
    return out


def _write_shelf_card(inks: list[Ink], path: Path, *, force: bool) -> None:
    """Write a row per ink: masstone, two white tints, and one coat on white and on black cloth."""
    from sepkit.colorimetry.upsampling import srgb8_to_reflectance
    from sepkit.files.ink_pictures import Swatch, save_png, swatch_rows

    cloths = {cloth: srgb8_to_reflectance(rgb) for cloth, rgb in CLOTHS}
    wanted = (
        "masstone",
        "in white, 5 %",
        "in white, 20 %",
        "on white cloth, 1 coat",
        "on black cloth, 1 coat",
        "on black cloth, over white base",
    )
    rows = []
    for ink in inks:
        looks = [(g, label, lab) for g, label, lab in _looks(ink, cloths) if label in wanted]
        swatches = [
            Swatch(_rgb(lab), label.removeprefix("on "), srgb_hex(lab), dict(CLOTHS).get(group.removeprefix("on ")))
            for group, label, lab in looks
        ]
        rows.append((f"{ink.name} ({ink.status})", swatches))
    save_png(swatch_rows("ink shelf", rows), path, force=force)


def _rgb(lab: Any) -> tuple[int, int, int]:
    from sepkit.colorimetry.srgb import as_rgb8, lab_to_srgb8

    return as_rgb8(lab_to_srgb8(lab))
