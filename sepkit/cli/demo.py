"""sepkit demo: whole prints from the sample art, to look at before trusting the tool with your own."""

from __future__ import annotations

import time
from pathlib import Path

import click

from sepkit.cli.common import TerminalProgress
from sepkit.cli.show import say, show_findings, show_plates

GARMENTS = ("black tee", "white tee")
DEMO_ART = ("harbour-flat.png", "lantern-lines.svg")


@click.command()
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    default=Path("sepkit-demo"),
    show_default=True,
    help="Folder to make.",
)
@click.option("--art", default=DEMO_ART[0], show_default=True, help="A piece of the sample art.")
@click.option("--all", "everything", is_flag=True, help="Every piece of the sample art, on both garments.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
def demo(out: Path, art: str, everything: bool, quiet: bool) -> None:
    """Make a print folder from the sample art for a black and a white garment. Needs no network.

    An older demo folder of the same name is replaced.

    \b
    Examples:
      sepkit demo
      sepkit demo --art lantern-glow.png -o glow
      sepkit demo --all
    """
    from sepkit.workshop.demo import DARK_ONLY, demo_art, demo_options
    from sepkit.workshop.print.write import make_prints

    started = time.perf_counter()
    pieces = demo_art() if everything else [art]
    progress = TerminalProgress(quiet=quiet)
    try:
        made = make_prints(
            [
                demo_options(piece, garment)
                for piece in pieces
                for garment in GARMENTS
                if not (piece in DARK_ONLY and garment == GARMENTS[1])
            ],
            out,
            force=True,
            progress=progress,
            one_folder_each=True,
        )
    finally:
        progress.end()
    for one in made:
        show_plates(one.planned.separation, quiet=quiet)
        show_findings(one.planned.separation.findings, quiet=quiet)
        say(quiet=quiet)
    say(f"made in {time.perf_counter() - started:.0f} s; open these:", quiet=quiet)
    for one in made:
        for name in ("preview.png", "compare.png", "films.pdf", "sheet.html") if not quiet else ("sheet.html",):
            click.echo(str(one.folder / name))
