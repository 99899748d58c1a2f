"""`sepkit ink card`: the card for draw-downs, which a photograph is read by."""

from __future__ import annotations

from pathlib import Path

import click

from sepkit.cli.ink.common import emit, output_options
from sepkit.cli.show import say


@click.command()
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), default=Path("ink-card.pdf"), show_default=True, help="The PDF."
)
@click.option("--force", is_flag=True, help="Overwrite the PDF.")
@output_options
def card(*, out: Path, force: bool, as_json: bool, quiet: bool) -> None:
    """Make a card with places for draw-downs over black and white, two tints and an opaque film.

    \b
    Examples:
      sepkit ink card -o ink-card.pdf
    """
    from sepkit.workshop.photo.draw_down import write_ink_card

    path = write_ink_card(out, force=force)
    emit({"schema": "sepkit.ink-card/1", "file": str(path)}, [str(path)], as_json=as_json)
    say(
        "print it at 100 % on matt paper, draw the ink down, photograph it with sepkit ink measure --photo", quiet=quiet
    )
