"""The shop's own figures from what its runs really came to.

In: RunRows, filled in. Out: ShopFigures: losses by placement, ink factor, pace, each with a band of 80 % and the number
of runs behind it.

A loss is counted on from the usual one: the usual share counts as PRIOR_PIECES garments (a beta prior), so that one bad
evening does not rule the next plan. Ink and minutes are means of the runs' ratios to the plan, on a logarithmic scale;
the band is Student's, and as wide as ONE_RUN either way after a single run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sepkit.jobs import DEFAULT_LOSS, Figure, RunRow, ShopFigures

PRIOR_PIECES = 50.0
"""How many garments the usual loss is worth (from memory)."""
BAND = (0.1, 0.9)
ONE_RUN = 1.3
"""Ratio by which a single run may be off (from memory)."""


def shop_figures(rows: Sequence[RunRow]) -> ShopFigures:
    """Return the figures of all runs; rows that were left open tell nothing."""
    known = [row for row in rows if row.actual is not None and row.planned > 0]
    places = dict.fromkeys(row.placement for row in known if row.kind == "print")
    return ShopFigures(
        {place: _loss([row for row in known if row.kind == "print" and row.placement == place]) for place in places},
        _ratio([row for row in known if row.kind == "ink"]),
        _ratio([row for row in known if row.kind == "round"]),
    )


def _loss(rows: Sequence[RunRow]) -> Figure:
    from scipy.stats import beta

    lost, printed = sum(row.actual or 0.0 for row in rows), sum(row.planned for row in rows)
    a = PRIOR_PIECES * DEFAULT_LOSS + lost
    b = PRIOR_PIECES * (1 - DEFAULT_LOSS) + max(0.0, printed - lost)
    low, high = (float(beta.ppf(at, a, b)) for at in BAND)
    return Figure(a / (a + b), low, high, len({row.run for row in rows}), printed)


def _ratio(rows: Sequence[RunRow]) -> Figure | None:
    """Return what was over what was planned, times what was planned with; None without a run."""
    from scipy.stats import t

    logs, counted = [], 0.0
    for run in dict.fromkeys(row.run for row in rows):
        mine = [row for row in rows if row.run == run]
        actual = sum(row.actual or 0.0 for row in mine)
        if actual > 0:
            logs.append(math.log(actual / sum(row.planned / row.factor for row in mine)))
            counted += actual
    if not logs:
        return None
    mean, count = math.fsum(logs) / len(logs), len(logs)
    if count == 1:
        half = math.log(ONE_RUN)
    else:
        spread = math.sqrt(math.fsum((one - mean) ** 2 for one in logs) / (count - 1))
        half = float(t.ppf(BAND[1], count - 1)) * spread / math.sqrt(count)
    return Figure(math.exp(mean), math.exp(mean - half), math.exp(mean + half), count, counted)
