"""`sepkit ink contaminate`: residue of one ink in the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sepkit.cli.ink.common import emit, output_options, parse_numbers
from sepkit.cli.show import say, table
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.contaminate import Contamination


@click.command()
@click.argument("first")
@click.argument("second")
@click.option("--residue", default="0.1,0.5,1,2,5", show_default=True, help="Shares left over, % by weight.")
@output_options
def contaminate(first: str, second: str, residue: str, *, as_json: bool, quiet: bool) -> None:
    """Tell what residue of one ink does to the next, in both orders (ΔE00 of the opaque film).

    \b
    Examples:
      sepkit ink contaminate white black
      sepkit ink contaminate yellow blue --residue 0.5,1
    """
    from sepkit.workshop.inks.contaminate import leave_residue

    percents = parse_numbers(residue, what="--residue", least=0.001, most=50)
    found = leave_residue(first, second, open_shelf(), percents=percents)
    emit(_payload(found), _lines(found), as_json=as_json)
    say(
        f"ΔE00 above {found.seen_de00:g} is seen side by side; wash tools fully when the order is the other",
        quiet=quiet,
    )


def _payload(found: Contamination) -> dict[str, object]:
    return {
        "schema": "sepkit.ink-contaminate/1",
        "first": found.first.name,
        "second": found.second.name,
        "residues": [
            {
                "percent": one.percent,
                "in_first_de00": round(one.in_first_de00, 3),
                "in_second_de00": round(one.in_second_de00, 3),
            }
            for one in found.residues
        ],
        "print_first": found.print_first.name,
    }


def _lines(found: Contamination) -> list[str]:
    first, second = found.first.name, found.second.name
    rows = [["residue", f"{second} left in {first}", f"{first} left in {second}"]]
    rows += [[f"{r.percent:g} %", f"{r.in_first_de00:.2f}", f"{r.in_second_de00:.2f}"] for r in found.residues]
    return [*table(rows), f"print {found.print_first.name} before {found.print_second.name}"]
