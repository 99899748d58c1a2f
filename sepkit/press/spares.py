"""How many blanks to buy: spares for what goes wrong, test garments, and sizes shared out while orders are not in.

In: pieces ordered, the share lost at each placement, the certainty wanted. Out: whole pieces.

Each garment is good with chance q = 1 - p, where p = 1 - prod(1 - p_i) over its placements. With s spares an order of
n is filled when at least n of n + s are good: the binomial tail, which equals the chance that at most s fail before
the n-th good one (negative binomial). Shares are rounded by largest remainder (Hamilton's method).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sepkit.errors import UsageError

MOST_SPARES = 10_000
PRIOR_PIECES = 25.0
"""How many orders a size curve is worth when some orders are in (from memory)."""

CURVES: dict[str, dict[str, float]] = {
    "common": {"S": 15, "M": 25, "L": 25, "XL": 20, "2XL": 10, "3XL": 5},
    "large orders": {"XS": 1, "S": 10, "M": 23, "L": 31, "XL": 23, "2XL": 9, "3XL": 3},
    "oversized cut": {"XS": 3, "S": 14, "M": 30, "L": 30, "XL": 17, "2XL": 5, "3XL": 1},
}
"""Size curves in parts (trade guides, which differ among themselves; the last from memory). Your own orders win."""


@dataclass(frozen=True, slots=True)
class BlankLine:
    """One garment and size to buy."""

    garment: str
    size: str
    ordered: int
    spares: int
    tests: int
    loss: float
    chance: float
    """Chance that the spares fill this line."""

    @property
    def buy(self) -> int:
        """Return pieces to buy."""
        return self.ordered + self.spares + self.tests


def compounded_loss(losses: Iterable[float]) -> float:
    """Return the share of garments lost over several placements, each share 0..1.

    >>> round(compounded_loss([0.02] * 4), 3)
    0.078
    """
    return 1.0 - math.prod(1.0 - loss for loss in losses)


def chance_filled(pieces: int, spares: int, loss: float) -> float:
    """Return the chance that ``pieces`` of ``pieces + spares`` are good, each being lost with share ``loss``.

    >>> round(chance_filled(20, 3, 0.05), 3)
    0.974
    """
    good = 1.0 - loss
    if pieces <= 0 or loss <= 0:
        return 1.0
    if good <= 0:
        return 0.0
    # Terms C(n+j-1, j) q^n p^j in logarithms: q^n alone underflows for a large order.
    terms = (
        math.lgamma(pieces + j)
        - math.lgamma(pieces)
        - math.lgamma(j + 1)
        + pieces * math.log(good)
        + j * math.log(loss)
        for j in range(spares + 1)
    )
    return min(1.0, math.fsum(math.exp(term) for term in terms))


def spares_needed(pieces: int, loss: float, certainty: float) -> int:
    """Return the fewest spares with which ``pieces`` are filled with chance ``certainty`` or more.

    Raises UsageError when the loss is so high that no reasonable number does it.

    >>> spares_needed(20, 0.05, 0.95)
    3
    """
    if pieces <= 0 or loss <= 0:
        return 0
    good = 1.0 - loss
    total, term, spares = 0.0, 0.0, 0
    log_loss = math.log(loss) if loss < 1 else 0.0
    while good > 0 and spares <= MOST_SPARES:
        term = math.exp(
            math.lgamma(pieces + spares)
            - math.lgamma(pieces)
            - math.lgamma(spares + 1)
            + pieces * math.log(good)
            + spares * log_loss
        )
        total += term
        if total >= certainty - 1e-12:
            return spares
        spares += 1
    raise UsageError(f"a loss of {loss:.0%} cannot be covered by spares", where="spoilage", hint="print tests first")


def shared_out(total: int, shares: Mapping[str, float]) -> dict[str, int]:
    """Return ``total`` pieces shared out by largest remainder; ties go to the earlier size.

    >>> shared_out(10, {"S": 1, "M": 1, "L": 1})
    {'S': 4, 'M': 3, 'L': 3}
    """
    parts = sum(shares.values())
    if parts <= 0 or total < 0:
        raise UsageError("a size curve needs parts above zero", where="size curve", hint="{ S = 1, M = 2 }")
    exact = {size: total * share / parts for size, share in shares.items()}
    out = {size: math.floor(value + 1e-9) for size, value in exact.items()}
    rest = sorted(exact, key=lambda size: round(out[size] - exact[size], 9))
    for size in rest[: total - sum(out.values())]:
        out[size] += 1
    return out


def blended_curve(orders: Mapping[str, int], curve: Mapping[str, float]) -> dict[str, float]:
    """Return shares of sizes from orders so far and a curve that counts as PRIOR_PIECES orders."""
    parts = sum(curve.values())
    sizes = dict.fromkeys([*curve, *orders])
    return {size: orders.get(size, 0) + PRIOR_PIECES * curve.get(size, 0.0) / parts for size in sizes}
