"""Tables of the print sheet: how each ink could go, and what goes on the press together. HTML text, nothing loaded.

In: what was decided. Out: HTML for ``print_sheet``'s ``tables``.
"""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice, CoatOption, Rounds
    from sepkit.model import Plate


def options_table(choices: Mapping[str, CoatChoice]) -> str:
    """Return one row for each ink: every way with its predicted colour and ΔE00, the chosen one in bold."""
    if not choices:
        return ""
    ways = next(iter(choices.values())).options
    head = "".join(f"<th>{html.escape(option.label)}</th>" for option in ways)
    rows = "\n".join(
        f"<tr><td>{html.escape(name)}</td>"
        + "".join(_way(option, option.label == choice.chosen.label) for option in choice.options)
        + "</tr>"
        for name, choice in choices.items()
    )
    return f"""<h2>How each ink could go</h2>
<table><thead><tr><th>ink</th>{head}</tr></thead><tbody>
{rows}
</tbody></table>
<p class="small">ΔE00 from the ink's own colour, which is its thick film or one coat on white cloth, whichever is
nearer: 0.0 says that it looks as it usually does, not that it was measured. ☑ is chosen. To overrule:
<code>--base INK=always</code>,
<code>--base INK=never</code>, <code>--tolerance</code>.</p>"""


def rounds_table(plates: Sequence[Plate], rounds: Rounds, order_why: str) -> str:
    """Return the reason of the order, and the rounds when there is more than one."""
    why = f'<p class="small">Order: {html.escape(order_why)}.</p>'
    if len(rounds.rounds) < 2:
        return why
    rows = "\n".join(
        f"<tr><td>{number}</td><td>{html.escape(', '.join(plates[i].name for i in screens))}</td>"
        f"<td>{_after(rounds, number)}</td></tr>"
        for number, screens in enumerate(rounds.rounds, 1)
    )
    parted = ", ".join(f"{plates[a].name} and {plates[b].name}" for a, b, _ in rounds.parted)
    note = f'<p class="small">Touch across rounds: {html.escape(parted)}.</p>' if parted else ""
    return f"""{why}
<h2>Rounds</h2>
<table><thead><tr><th>round</th><th>screens</th><th>then</th></tr></thead><tbody>
{rows}
</tbody></table>{note}"""


def _way(option: CoatOption, chosen: bool) -> str:
    chip = f'<span class="chip" style="background:{to_hex(option.srgb)}"></span>'
    figure = f"{option.de00:.1f}"
    return f"<td>{chip}{f'<b>☑ {figure}</b>' if chosen else figure}</td>"


def _after(rounds: Rounds, number: int) -> str:
    if number == len(rounds.rounds):
        return "cure"
    if rounds.reload_after(number):
        return "the garment may be taken off and loaded again: nothing of these screens touches what comes"
    return "leave the garment on the platen while the screens change"
