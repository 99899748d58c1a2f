"""The blanks of a job: spares by what a shortage costs, test garments once for each print.

In: a Job. Out: BlankPlan, lines to buy and what three levels of spares come to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.press.blanks import Level, Shortage, Spares, Wanted, chance_filled, kinds_to_test, levels
from sepkit.press.spares import BlankLine, compounded_loss
from sepkit.workshop.drop.runs import loss_of

if TYPE_CHECKING:
    from sepkit.jobs import Job, Print

ORDER_OVER_BLANK = 5.0
"""What an order is worth against its blank, where no price is told (from memory)."""


@dataclass(frozen=True, slots=True)
class BlankPlan:
    """Lines to buy, and three levels of spares with the one chosen."""

    lines: tuple[BlankLine, ...]
    levels: Mapping[Level, Spares]
    chosen: Level
    shortage: Shortage

    @property
    def spares(self) -> Spares:
        """What was chosen."""
        return self.levels[self.chosen]


def placements_of(job: Job, garment: str, size: str) -> list[Print]:
    """Return the prints that a garment of this size carries."""
    return [one for one in job.prints if garment in one.garments and (not one.sizes or size in one.sizes)]


def blank_plan(job: Job) -> BlankPlan:
    """Return what to buy of each garment and size."""
    spoilage = job.spoilage
    shortage = shortage_of(job)
    wanted = wanted_lines(job)
    found = levels(wanted, shortage, certainty=spoilage.certainty)
    tests = _tests(job)
    lines = []
    for line, spares in zip(wanted, found[spoilage.spares].spares, strict=True):
        lines.append(
            BlankLine(
                line.garment,
                line.size,
                line.ordered,
                spares,
                tests.get((line.garment, line.size), 0),
                line.loss,
                chance_filled(line, spares),
            )
        )
    return BlankPlan(tuple(lines), found, spoilage.spares, shortage)


def shortage_of(job: Job) -> Shortage:
    """Return what missing pieces cost."""
    told = job.spoilage
    return Shortage(told.late_order is not None, told.late_order or 0.0, told.kept, told.most_spares)


def wanted_lines(job: Job) -> list[Wanted]:
    """Return what is ordered, with the loss over all placements and what an order is worth."""
    out = []
    for line in job.garments:
        price = line.price or 1.0
        value = job.money.price or ORDER_OVER_BLANK * price
        for size, ordered in line.sizes.items():
            loss = compounded_loss(loss_of(job, one.placement) for one in placements_of(job, line.garment, size))
            out.append(Wanted(line.garment, size, ordered, round(loss, 9), price, value))
    return out


def _tests(job: Job) -> dict[tuple[str, str], int]:
    """Return the test garments by garment and size: of the cheapest garments that carry every print between them."""
    out: dict[tuple[str, str], int] = {}
    choices = [(line.garment, size, line.price) for line in job.garments for size in _largest_first(line.sizes)]
    carried = [frozenset(one.name for one in placements_of(job, name, size)) for name, size, _ in choices]
    # Sizes that carry the same prints test the same: the one ordered most gives the piece.
    first = {
        (choice[0], prints): k for k, (choice, prints) in reversed(list(enumerate(zip(choices, carried, strict=True))))
    }
    kept = sorted(first.values())
    for nth in kinds_to_test([carried[k] for k in kept], [choices[k][2] for k in kept]):
        name, size, _ = choices[kept[nth]]
        out[name, size] = job.spoilage.test_garments
    for line in job.garments:
        if line.sizes and job.spoilage.wash_tests:
            key = (line.garment, _largest_first(line.sizes)[0])
            out[key] = out.get(key, 0) + job.spoilage.wash_tests
    return out


def _largest_first(sizes: Mapping[str, int]) -> list[str]:
    return sorted(sizes, key=lambda size: -sizes[size])
