"""sepkit inspect: a photograph of the test print held against its films."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import TerminalProgress
from sepkit.cli.show import say, show_findings

if TYPE_CHECKING:
    from sepkit.reading.find import Side
    from sepkit.workshop.photo.inspect import Inspection

RUINS = 8


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--top",
    type=click.Choice(["up", "right", "down", "left"]),
    help="Which side of the photograph the print's top is at, for art that looks the same turned.",
)
@click.option(
    "--chart",
    metavar="FILE",
    help="Values of a chart of 24 patches beside the print, for absolute colour: CSV, CxF3, or published.",
)
@click.option(
    "--approved",
    type=click.Choice(["up", "right", "down", "left"]),
    help="An approved print lies at this side of the tested one, in the same photograph: colours are told against it.",
)
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Folder to make [default: FOLDER-inspected, beside FOLDER]."
)
@click.option("--strict", is_flag=True, help="Exit with 8 when something found would ruin the run.")
@click.option("--guide", is_flag=True, help="Print how to take the photograph, and stop; -o guide.html: a page.")
@click.option("--force", is_flag=True, help="Replace the folder of an earlier inspection.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
def inspect(
    folder: Path | None,
    photos: tuple[Path, ...],
    top: Side | None,
    chart: str | None,
    approved: Side | None,
    out: Path | None,
    strict: bool,
    guide: bool,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Hold photographs of a test print against its print folder: register, pinholes, voids, edges, colour.

    With several photographs of one print, what they agree on is kept. A photograph that cannot be used ends with
    exit code 10 and what to do better.

    \b
    Examples:
      sepkit inspect badge-black-tee test.jpg
      sepkit inspect badge-black-tee one.jpg two.jpg --strict --json
      sepkit inspect badge-black-tee both.jpg --approved left
      sepkit inspect badge-black-tee test.jpg --chart published
      sepkit inspect --guide -o guide.html
    """
    from sepkit.errors import UsageError

    if guide:
        from sepkit.workshop.photo.guide import GUIDE, write_guide

        click.echo(GUIDE if out is None else str(write_guide(out, force=force)))
        return 0
    if folder is None or not photos:
        raise UsageError(
            "no photograph", where="sepkit inspect", hint="give a print folder and a photograph, or --guide"
        )
    from sepkit.files.folders.write import check_writable
    from sepkit.workshop.photo.inspect import inspect as inspected
    from sepkit.workshop.photo.told import inspection_json, write_inspection

    hush = quiet or as_json
    progress = TerminalProgress(quiet=hush)
    target = out or folder.resolve().with_name(f"{folder.resolve().name}-inspected")
    check_writable(target, force=force)
    try:
        found = inspected(folder, photos, top=top, chart=chart, approved=approved, progress=progress)
        files = write_inspection(target, found, force=force)
    finally:
        progress.end()
    _tell(found, quiet=hush)
    if as_json:
        click.echo(json.dumps(inspection_json(found) | {"ok": True, "files": [str(path) for path in files]}))
    else:
        for path in files[:1] if not quiet else [target]:
            click.echo(str(path))
    return RUINS if strict and found.ruins_the_run else 0


def _tell(found: Inspection, *, quiet: bool) -> None:
    say(f"{found.kept.title}, {found.px_per_mm:.1f} pixels for each mm", quiet=quiet)
    for screen in found.screens:
        words = "; ".join(word for word in (screen.move(), screen.grown()) if word)
        say(f"  {screen.name}: {words}", quiet=quiet)
    for one in found.colours:
        say(f"  {one.screen}: ΔE00 {one.de00:.1f} ± {one.band:.1f} from the {one.against}", quiet=quiet)
    show_findings(found.findings, quiet=quiet)
    say("tried on simulated photographs only: look before you tape", quiet=quiet)
