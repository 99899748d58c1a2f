"""`sepkit ink`: the ink shelf and everything that predicts or repairs an ink. Each command loads when it runs."""

from __future__ import annotations

import click

from sepkit.cli.main import LazyGroup

COMMANDS: dict[str, tuple[str, str]] = {
    "list": ("sepkit.cli.ink.shelf:list_inks", "The inks of the shelf, with how each hides and tints."),
    "show": ("sepkit.cli.ink.shelf:show", "One ink: masstone, white tints, on white and on black cloth."),
    "match": ("sepkit.cli.ink.match:match", "A target colour in, recipes in grams out."),
    "tint": ("sepkit.cli.ink.tint:tint", "What a ratio of inks looks like, and the steps around it."),
    "correct": ("sepkit.cli.ink.correct:correct", "Repair a batch that measured off, by additions only."),
    "label": ("sepkit.cli.ink.label:label", "The inner neck label: legible inside, not seen outside."),
    "contaminate": ("sepkit.cli.ink.contaminate:contaminate", "What residue of one ink does to the next."),
    "card": ("sepkit.cli.ink.card:card", "A card for draw-downs, to be photographed."),
    "measure": ("sepkit.cli.ink.measure:measure", "Make a shelf ink from a draw-down or a swatch."),
}


@click.command(cls=LazyGroup, table=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
def ink() -> None:
    """List, match, tint, correct and measure inks.

    \b
    Examples:
      sepkit ink list
      sepkit ink match "#bf2f3a" --on "black tee" --batch 400
      sepkit ink tint white:95 black:5 --on "white tee"
    """
