"""`sepkit ink contaminate`: residue of one ink in the next."""

from __future__ import annotations

import click

from sepkit.cli.ink.common import emit, output_options, parse_numbers, table


@click.command()
@click.argument("first")
@click.argument("second")
@click.option("--residue", default="0.1,0.5,1,2,5", show_default=True, help="Shares left over, % by weight.")
@output_options
def contaminate(first: str, second: str, *, residue: str, as_json: bool, quiet: bool) -> None:
    """Tell what residue of one ink does to the next, in both orders (ΔE00 of the opaque film).

    \b
    Examples:
      sepkit ink contaminate white black
      sepkit ink contaminate yellow blue --residue 0.5,1
    """
    from sepkit.errors import UsageError
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.inks.residue import SEEN_DE00, better_first, residues

    one, two = find_ink(first), find_ink(second)
    if one.name == two.name:
        raise UsageError(f"both are {one.name}", where="contaminate", hint="name two inks")
    found = residues(one, two, parse_numbers(residue, what="--residue", least=0.001, most=50))
    rows = [["residue", f"{two.name} left in {one.name}", f"{one.name} left in {two.name}"]]
    rows += [[f"{r.percent:g} %", f"{r.in_first_de00:.2f}", f"{r.in_second_de00:.2f}"] for r in found]
    before = better_first(one, two)
    after = two if before is one else one
    payload = {
        "schema": "sepkit.ink-contaminate/1",
        "first": one.name,
        "second": two.name,
        "residues": [
            {
                "percent": r.percent,
                "in_first_de00": round(r.in_first_de00, 3),
                "in_second_de00": round(r.in_second_de00, 3),
            }
            for r in found
        ],
        "print_first": before.name,
    }
    emit(payload, [*table(rows), f"print {before.name} before {after.name}"], as_json=as_json)
    if not quiet:
        click.echo(
            f"ΔE00 above {SEEN_DE00:g} is seen side by side; wash tools fully when the order is the other", err=True
        )
