"""sepkit page: the whole job in a browser, on this machine only."""

from __future__ import annotations

from pathlib import Path

import click

from sepkit.cli.common import LengthParam, Number


@click.command()
@click.argument("what", metavar="[ART|JOB|FOLDER]", type=click.Path(path_type=Path, exists=True), default=Path())
@click.option("--on", "garment", metavar="GARMENT", help="Garment that ART is laid on [default: black tee].")
@click.option(
    "--width",
    "width_mm",
    type=LengthParam(least_mm=5, most_mm=3000),
    help="Printed width of ART, as 280mm or 11in [default: 280mm].",
)
@click.option("--port", type=Number(0, 65535), default=0, show_default="a free one", help="Port on this machine.")
@click.option("--open/--no-open", "open_", default=True, show_default=True, help="Open it in the browser.")
@click.option("--stay", is_flag=True, help="Go on when the page was closed; else it ends ten minutes later.")
def page(what: Path, *, garment: str | None, width_mm: float | None, port: float, open_: bool, stay: bool) -> None:
    """Serve the page: drop art in, look, change, make the films.

    With ART it is laid on the table, with a JOB file all its prints are; their folder is the working folder, else
    FOLDER is. Print folders are made there; art that was dropped, edits and what lies on the desk are kept below it in
    sepkit-page, so that it comes back as you left it. The page is for this machine only and needs no network. Ctrl-C
    ends it.

    \b
    Examples:
      sepkit page
      sepkit page badge.png --on "black tee" --width 280mm
      sepkit page drop.toml
      sepkit page ~/drops/spring --no-open
    """
    from sepkit.page.server import serve
    from sepkit.workshop.page.start import start_of

    def tell(address: str) -> None:
        click.echo(f"the page is at {address}")
        click.echo("it is for this machine only; Ctrl-C ends it", err=True)
        if open_:
            _open(address)

    serve(start_of(what.resolve(), garment=garment, width_mm=width_mm), port=int(port), tell=tell, stay=stay)


def _open(address: str) -> None:
    """Open the address, where there is a display, by way of a file of our own: others may read command lines."""
    import os
    import sys
    import tempfile
    import webbrowser

    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return
    handle, name = tempfile.mkstemp(prefix="sepkit-", suffix=".html")  # readable by this user alone
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(f'<!doctype html><meta http-equiv="refresh" content="0; url={address}"><title>sepkit</title>')
    webbrowser.open(Path(name).as_uri())
