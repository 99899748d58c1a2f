"""sepkit page: the whole job in a browser, on this machine only."""

from __future__ import annotations

from pathlib import Path

import click

from sepkit.cli.common import Number


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True), default=Path())
@click.option("--port", type=Number(0, 65535), default=0, show_default="a free one", help="Port on this machine.")
@click.option("--open/--no-open", "open_", default=True, show_default=True, help="Open it in the browser.")
def page(folder: Path, port: float, open_: bool) -> None:
    """Serve the page for FOLDER (the working folder): drop art in, look, change, make the films.

    The page is for this machine only and needs no network. Print folders are made in FOLDER; art, edits and what lies
    on the desk are kept below it in sepkit-page, so that it comes back as you left it. Ctrl-C ends it.

    \b
    Examples:
      sepkit page
      sepkit page ~/drops/spring --no-open
    """
    from sepkit.page.server import serve

    def tell(address: str) -> None:
        click.echo(f"the page is at {address}")
        click.echo("it is for this machine only; Ctrl-C ends it", err=True)
        if open_:
            _open(address)

    serve(folder.resolve(), port=int(port), tell=tell)


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
