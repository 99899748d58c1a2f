"""How many frames prints need at least, by their area alone.

In: sizes and a room in whole units of 0.01 mm. Out: a lower bound. The bounds are dual feasible functions: G. S. Lueker
(1983), Bin packing with items uniformly distributed over intervals; S. P. Fekete and J. Schepers (2004), A general
framework for bounds for higher-dimensional orthogonal packing problems, Math. Methods of Operations Research 60.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

ROUNDING = 1e-9
"""Slack in floating point, toward the weaker bound."""


def fewest_bins(sizes: Sequence[tuple[int, int]], room: tuple[int, int], *, gap_x: int, gap_y: int) -> int:
    """Return a lower bound on the number of rooms (width, height) that hold rectangles of ``sizes`` with these gaps."""
    across = list(_scaled([w + gap_x for w, _ in sizes], room[0] + gap_x))
    down = list(_scaled([h + gap_y for _, h in sizes], room[1] + gap_y))
    most = max(sum(a * d for a, d in zip(xs, ys, strict=True)) for xs in across for ys in down)
    return ceil(most - ROUNDING)


def _scaled(lengths: Sequence[int], whole: int) -> Iterator[list[float]]:
    """Yield lengths as shares of the whole, through dual feasible functions."""
    shares = [length / whole for length in lengths]
    yield shares
    yield from (_stepped(lengths, shares, whole, k) for k in (1, 2, 3))
    limits = sorted({min(length, whole - length) for length in lengths})
    yield from (_extremes_rounded(lengths, shares, whole, limit) for limit in limits if 0 < 2 * limit <= whole)


def _stepped(lengths: Sequence[int], shares: Sequence[float], whole: int, k: int) -> list[float]:
    """Round shares down to the k-th part of the whole, unless they are a multiple of its (k + 1)-th."""
    parts = [divmod((k + 1) * length, whole) for length in lengths]
    return [n / k if rest else share for (n, rest), share in zip(parts, shares, strict=True)]


def _extremes_rounded(lengths: Sequence[int], shares: Sequence[float], whole: int, limit: int) -> list[float]:
    """Let what leaves less than ``limit`` count as the whole, and what is shorter as nothing."""
    return [
        1.0 if length > whole - limit else 0.0 if length < limit else share
        for length, share in zip(lengths, shares, strict=True)
    ]
