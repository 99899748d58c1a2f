"""sepkit wedge: the calibration print, and what it says about the press."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import Number, TerminalProgress
from sepkit.cli.show import findings_json, say, show_findings
from sepkit.model import PERIODIC_DOTS

if TYPE_CHECKING:
    from sepkit.film.wedge import WedgeSettings
    from sepkit.model import PeriodicDot

LABELS = {
    "register_error_mm": "prints fall apart by",
    "edge_growth_um": "a printed edge grows by",
    "ink_factor": "ink laid down over ink computed",
    "thinnest_line_mm": "thinnest line",
    "thinnest_gap_mm": "narrowest gap",
    "smallest_type_pt": "smallest type",
    "smallest_reversed_pt": "smallest reversed type",
    "measured_threads_per_cm": "measured on a mesh of",
    "measured_thread_um": "its thread",
}


@click.command()
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    default=Path("wedge.pdf"),
    show_default=True,
    help="PDF of the two films; the reading sheet goes beside it as .csv.",
)
@click.option(
    "--lpi",
    multiple=True,
    type=Number(10, 150),
    help="Ruling of a row of tone steps; twice for two [default: 35 and 45].",
)
@click.option("--angle", "angle_deg", type=Number(-360, 360), default=22.5, show_default=True, help="Halftone angle.")
@click.option(
    "--shape",
    type=click.Choice(PERIODIC_DOTS),
    default="ellipse",
    show_default=True,
    help="Halftone dot.",
)
@click.option("--film-dpi", type=Number(150, 2880), default=720.0, show_default=True, help="Film resolution.")
@click.option("--read", "readings", type=click.Path(path_type=Path), help="Read a filled-in sheet into the press file.")
@click.option(
    "--photo",
    "photos",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Photograph or scan of the printed wedge, several times for several: fills in the sheet, then reads it.",
)
@click.option(
    "--sheet",
    type=click.Path(path_type=Path),
    help="The reading sheet that --photo fills in [default: the .csv beside --out].",
)
@click.option(
    "--press", metavar="PRESS", default="two-head", show_default=True, help="Press of the shelf that was measured."
)
@click.option(
    "--to",
    "press_file",
    type=click.Path(path_type=Path),
    help="Press file to write [default: presses.toml in the folder that SEPKIT_RECIPES names].",
)
@click.option("--force", is_flag=True, help="Replace films and sheet that exist.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
def wedge(
    out: Path,
    lpi: tuple[float, ...],
    angle_deg: float,
    shape: PeriodicDot,
    film_dpi: float,
    readings: Path | None,
    photos: tuple[Path, ...],
    sheet: Path | None,
    press: str,
    press_file: Path | None,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make the calibration film, or read what was measured on its print.

    Print it with your mesh, ink and press: dot gain, thinnest line and gap, register error and ink per print go into
    your press file and take the place of defaults.

    \b
    Examples:
      sepkit wedge -o wedge.pdf
      sepkit wedge --lpi 35 --lpi 55 --shape round -o wedge-round.pdf
      sepkit wedge --read wedge.csv --press two-head --to presses.toml
      sepkit wedge --photo one.jpg --photo two.jpg --press two-head --to presses.toml
    """
    from sepkit.film.wedge import WedgeSettings

    settings = WedgeSettings(lpi or (35.0, 45.0), angle_deg, shape, film_dpi)
    if photos:
        filled = _fill(photos, sheet or out.with_suffix(".csv"), settings, quiet=quiet or as_json)
        _read(filled, press, press_file, hush=quiet or as_json, as_json=as_json)
        return
    if readings is not None:
        _read(readings, press, press_file, hush=quiet or as_json, as_json=as_json)
        return
    from sepkit.workshop.wedge import write_wedge

    paths = write_wedge(out, settings, force=force)
    say(
        "Two films for two screens: register the second by its ladders. Fill in the sheet, then --read it.",
        quiet=quiet or as_json,
    )
    if as_json:
        click.echo(json.dumps({"schema": 1, "ok": True, "files": [str(path) for path in paths]}))
        return
    for path in paths:
        click.echo(str(path))


def _fill(photos: tuple[Path, ...], sheet: Path, settings: WedgeSettings, *, quiet: bool) -> Path:
    from sepkit.workshop.wedge import fill_from_photos

    progress = TerminalProgress(quiet=quiet)
    try:
        filled = fill_from_photos(photos, sheet, settings, progress=progress)
    finally:
        progress.end()
    read = filled.readings
    register = "" if read.register_band_mm is None else f", register to {read.register_band_mm:.2f} mm"
    say(f"tints read to about {read.tone_band:.0f} points{register}", quiet=quiet)
    show_findings(read.findings, quiet=quiet)
    say(f"filled in: {filled.sheet} (type and weights stay by eye and scale)", quiet=quiet)
    return filled.sheet


def _read(readings: Path, press: str, press_file: Path | None, *, hush: bool, as_json: bool) -> None:
    from sepkit.workshop.wedge import read_into_press

    read = read_into_press(readings, press=press, file=press_file)
    for key, value in read.written.items():
        unit = {"mm": " mm", "um": " µm", "pt": " pt", "cm": "/cm"}.get(key.rpartition("_")[2], " times")
        say(f"  {LABELS[key]} {value:g}{unit}", quiet=hush)
    show_findings(read.numbers.findings, quiet=hush)
    if not read.on_shelf:
        say(f"commands read it when SEPKIT_RECIPES is {read.file.resolve().parent}", quiet=hush)
    if as_json:
        click.echo(
            json.dumps(
                {
                    "schema": 1,
                    "ok": True,
                    "files": [str(read.file)],
                    "press": read.press.name,
                    "numbers": read.written,
                    "findings": findings_json(read.numbers.findings),
                }
            )
        )
        return
    click.echo(str(read.file))
