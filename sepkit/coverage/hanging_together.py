"""Which of many things hang together by links between pairs of them.

scipy.sparse.csgraph tells the same, but takes half a second to load, most of it for solvers of equations.
"""

from __future__ import annotations

from typing import Any

import numpy as np

I64 = np.ndarray[Any, np.dtype[np.int64]]


def groups(one: I64, other: I64, count: int) -> tuple[I64, int]:
    """Return the group (count,) of each of ``count`` things that links (m,), (m,) join, and how many groups there are.

    Groups are numbered from 0 in the order of their first things. Each step hangs every root that a link joins to a
    smaller one under it and shortens the ways, as in Shiloach and Vishkin, J. Algorithms 3:57 (1982).

    >>> found, number = groups(np.array([0, 3]), np.array([2, 4]), 5)
    >>> found.tolist(), number
    ([0, 1, 0, 2, 2], 3)
    """
    root = np.arange(count)
    while True:
        a, b = root[one], root[other]
        apart = a != b
        if not apart.any():
            break
        one, other, a, b = one[apart], other[apart], a[apart], b[apart]
        np.minimum.at(root, np.maximum(a, b), np.minimum(a, b))
        while not np.array_equal(shorter := root[root], root):
            root = shorter
    first = root == np.arange(count)
    number = np.cumsum(first) - 1
    return number[root], int(np.count_nonzero(first))
