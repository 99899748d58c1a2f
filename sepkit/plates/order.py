"""In which order the plates print: base first, then what harms the next ink least, with small areas before large.

Each pair has a cost for printing one before the other. A screen's underside picks up wet ink and carries it into the
next one: a little black spoils white, a little white hardly changes black. How much is asked of inks/: ΔE00 of the
later ink with one percent of the earlier one in it; where only lightness is known, it stands in. Where the two print on
one another more is carried. A large wet area before a small one is picked up most (common practice: small before
large). The order of least total cost is found exactly for up to ten inks, and by lightness beyond.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from sepkit.inks.residue import residue_de00

if TYPE_CHECKING:
    from sepkit.model import Ink

EXACT_UP_TO = 10
RESIDUE_PERCENT = 1.0
"""Share of the earlier ink, by weight, that a run leaves in the later one; an assumption: only ratios matter here."""
DIRT_PER_DE00 = 6.0
"""Cost per ΔE00 of residue: black in white is 9.7 and 75 in L*, so both scales weigh alike."""
DIRT_PER_L = 1.0
"""Cost per unit of L* that the later ink is lighter than the earlier, when the inks are not known."""
GUESSED_PER_L = 0.5
"""The same, beside the residue, while either ink is only estimated: how strongly it tints is then a guess, and light
before dark (common practice) weighs with it. Between measured inks residue alone decides."""
PICK_UP = 12.0
"""Cost of printing full coverage before none: about a difference of 12 in L*; common practice, small before large."""


@dataclass(frozen=True, slots=True)
class InkInOrder:
    """What order asks of an ink: its lightness L* as printed, the share of the print it covers (0..1), the ink."""

    lightness: float
    cover: float
    ink: Ink | None = None


def dirt_de00(first: InkInOrder, second: InkInOrder) -> float | None:
    """Return ΔE00 of ``second`` with RESIDUE_PERCENT of ``first`` in it; None where an ink is not known."""
    if first.ink is None or second.ink is None:
        return None
    return residue_de00(second.ink, first.ink, RESIDUE_PERCENT)


def pair_cost(first: InkInOrder, second: InkInOrder, *, overlap: float = 0.0) -> float:
    """Return the cost of printing ``first`` before ``second``; ``overlap`` (0..1) is how much of one lies on the other.

    Full overlap carries twice as much as none.
    """
    lighter = max(0.0, second.lightness - first.lightness)
    harm = dirt_de00(first, second)
    dirt = DIRT_PER_L * lighter
    if harm is not None:
        dirt = DIRT_PER_DE00 * harm + (0.0 if _measured(first, second) else GUESSED_PER_L * lighter)
    return dirt * (1 + overlap) + PICK_UP * max(0.0, first.cover - second.cover)


def print_order(inks: Sequence[InkInOrder], *, overlaps: Sequence[Sequence[float]] | None = None) -> list[int]:
    """Return indices of ``inks`` in the order of least total pair cost; ties keep the lighter first.

    ``overlaps[i][j]`` (0..1, symmetric) is the share of the smaller of two inks that prints on the other.

    >>> print_order([InkInOrder(20, 0.1), InkInOrder(90, 0.2), InkInOrder(60, 0.2)])
    [1, 2, 0]
    """
    by_lightness = sorted(range(len(inks)), key=lambda i: (-inks[i].lightness, inks[i].cover))
    if len(inks) > EXACT_UP_TO or len(inks) < 2:
        return by_lightness
    count = len(inks)
    cost_of = [
        [pair_cost(a, b, overlap=overlaps[i][j] if overlaps else 0.0) if i != j else 0.0 for j, b in enumerate(inks)]
        for i, a in enumerate(inks)
    ]
    best: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    for chosen in range(1, 1 << count):
        found: tuple[float, tuple[int, ...]] | None = None
        for place, index in enumerate(by_lightness):
            if not chosen >> place & 1:
                continue
            cost, before = best[chosen & ~(1 << place)]
            cost += sum(cost_of[b][index] for b in before)
            if found is None or cost < found[0] - 1e-9:
                found = (cost, (*before, index))
        if found is not None:
            best[chosen] = found
    return list(best[(1 << count) - 1][1])


def why_order(inks: Sequence[InkInOrder], order: Sequence[int], *, names: Sequence[str] = ()) -> str:
    """Return one line that says why the order is so, with the figure of the pair that an other order would harm most.

    >>> why_order([InkInOrder(20, 0.1), InkInOrder(90, 0.2)], [1, 0])
    'light before dark, so that no screen carries dark ink into a lighter one'
    """
    if len(order) < 2:
        return "one ink"
    lights = [inks[i].lightness for i in order]
    if all(a >= b for a, b in pairwise(lights)):
        text = "light before dark, so that no screen carries dark ink into a lighter one"
    else:
        text = "what harms the next ink least first, and a large area after a much smaller one"
    worst = _worst_avoided(inks, order)
    if worst is None or not names:
        return text
    first, second, now, other = worst
    return (
        f"{text}; {RESIDUE_PERCENT:g} % of {names[second]} left in {names[first]} would be ΔE00 {other:.1f}, "
        f"the other way round {now:.1f}"
    )


def _measured(first: InkInOrder, second: InkInOrder) -> bool:
    return all(ink is not None and ink.status == "measured" for ink in (first.ink, second.ink))


def _worst_avoided(inks: Sequence[InkInOrder], order: Sequence[int]) -> tuple[int, int, float, float] | None:
    """Return (earlier, later, harm as ordered, harm the other way round) of the pair that gains most."""
    best: tuple[float, tuple[int, int, float, float]] | None = None
    for place, first in enumerate(order):
        for second in order[place + 1 :]:
            now, other = dirt_de00(inks[first], inks[second]), dirt_de00(inks[second], inks[first])
            if now is None or other is None:
                continue
            if best is None or other - now > best[0]:
                best = (other - now, (first, second, now, other))
    return None if best is None or best[0] <= 0 else best[1]
