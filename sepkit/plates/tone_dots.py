"""Tones of several inks as they print: dots of separate screens fall on one another, on the base and on the cloth.

The art's tones come as shares that lie side by side (they sum to at most solid). Screens at their own angles do not
lie so: where one covers a and the other b, both cover a b (Demichel, 1924). Each pixel's dots are therefore solved
again, base and inks together, so that the colours of all overprints (from layer optics, in print order) average to the
colour that the art asks for. The start is stick-breaking: an ink printed earlier fills in under the later ones,
F / (1 - later F), which is exact for opaque inks, but damped where next to no room is left; least squares with a pull
towards the start does the rest.

In: shares (h, w) uint8 in print order, masks of tone, colours of all 2^n stacks in linear light. Out: printed planes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F64, U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

LEVEL = 4
"""Shares are told apart in steps of 4/255 = 1.6 points; between steps dots follow the share in proportion."""
STEPS = 16
PULL = 0.004
"""How much a dot that leaves its start counts against a wrong colour (both on 0..1, colour as cube roots)."""
LEAST_ROOM = 0.05
"""Under inks that leave next to no room, a trace of an earlier ink is not blown up into a solid."""
BASE_PULL = 0.03
"""The same for a base, which is held closer: at one colour it can be nearly solid or nearly absent, and a base that
leaps from one to the other inside a gradient would show on press whatever is predicted."""
MOST_NUMBERS = 1_500_000
"""Stack weights held at once: about 12 MB."""


def printed_tones(
    shares: Sequence[U8], tone: Bool, *, stacks: Array, cloth: Array, has_base: bool, art_colours: Array
) -> list[U8]:
    """Return each plane with its tones as they are to print; outside ``tone`` planes are unchanged.

    ``shares`` are n planes (h, w) uint8 in print order, the base first when ``has_base``; ``tone`` (h, w) bool is where
    dots print; ``stacks`` (2^n, 3) linear light of each set of plates, plate k being bit k; ``cloth`` (3,) linear light
    of the garment; ``art_colours`` (n, 3) linear light that the art has for each plane (the base's row is not used).
    """
    keys, back = _distinct([plane[tone] for plane in shares])
    if not len(keys):
        return list(shares)
    inks = slice(1, None) if has_base else slice(0, None)
    asked = keys[:, inks].astype(np.float64) / 255
    wanted = asked @ art_colours[inks] + (1 - np.minimum(asked.sum(1), 1))[:, None] * cloth
    start = _stick_broken(keys.astype(np.float64) / 255, has_base)
    most = max(1, MOST_NUMBERS // len(stacks))
    parts = (slice(i, i + most) for i in range(0, len(keys), most))
    solved = np.concatenate([_solve(start[part], wanted[part], stacks, has_base) for part in parts])
    out = []
    for k, plane in enumerate(shares):
        printed = plane.copy()
        key = keys[back, k].astype(np.float64)
        asked_here = plane[tone].astype(np.float64)
        gain = np.where(key > 0, solved[back, k] * 255 / np.maximum(key, 1), 1.0)
        dots = np.rint(np.clip(asked_here * gain, 0, 255)).astype(np.uint8)
        dots[plane[tone] == 255] = 255
        printed[tone] = dots
        out.append(printed)
    return out


def demichel(dots: Array) -> F64:
    """Return the share of each of the 2^n stacks for dots (m, n) in 0..1 on independent screens, (m, 2^n).

    >>> demichel(np.array([[0.5, 0.25]])).round(3).tolist()
    [[0.375, 0.375, 0.125, 0.125]]
    """
    weights: F64 = np.ones((len(dots), 1))
    for k in range(dots.shape[1]):
        d = dots[:, k : k + 1]
        weights = np.concatenate([weights * (1 - d), weights * d], axis=1)
    return weights


def _distinct(columns: Sequence[U8]) -> tuple[U8, Array]:
    """Return the distinct rows of shares in steps of LEVEL (their middles), and each pixel's row."""
    code = np.zeros(len(columns[0]), np.int64)
    for column in columns:
        code = code * (256 // LEVEL + 1) + (column.astype(np.int64) + LEVEL // 2) // LEVEL
    codes, back = np.unique(code, return_inverse=True)
    keys = np.empty((len(codes), len(columns)), np.uint8)
    for k in range(len(columns) - 1, -1, -1):
        keys[:, k] = np.minimum(codes % (256 // LEVEL + 1) * LEVEL, 255)
        codes = codes // (256 // LEVEL + 1)
    return keys, back


def _stick_broken(shares: F64, has_base: bool) -> F64:
    """Let each ink fill in under the inks printed after it."""
    start = shares.copy()
    first = 1 if has_base else 0
    later = np.zeros(len(shares))
    for k in range(shares.shape[1] - 1, first - 1, -1):
        room = np.maximum(1 - later, 0)
        start[:, k] = np.minimum(shares[:, k] * (1 + LEAST_ROOM) / (room + LEAST_ROOM), 1)
        later = later + shares[:, k]
    return start


def _solve(start: F64, wanted: F64, stacks: Array, has_base: bool) -> F64:
    """Return dots (m, n) within 0..1 whose mean colour is nearest to ``wanted``, held to ``start``.

    Levenberg-Marquardt on cube roots, each row with its own damping.
    """
    aim = _root(wanted)
    hold = np.full(start.shape[1], PULL)
    if has_base:
        hold[0] = BASE_PULL
    free = (start > 0).astype(np.float64)
    dots = start.copy()
    cost = _cost(dots, start, aim, stacks, hold)
    damping = np.full(len(dots), 0.01)
    eye = np.eye(start.shape[1])
    for _ in range(STEPS):
        mean = demichel(dots) @ stacks
        error = _root(mean) - aim
        slope = _slopes(dots, mean, stacks) * free[:, None, :]
        normal = np.einsum("mik,mil->mkl", slope, slope) + np.diag(hold) + eye * damping[:, None, None]
        pull = np.einsum("mik,mi->mk", slope, error) + hold * (dots - start)
        step = np.linalg.solve(normal, pull[:, :, None])[:, :, 0]
        tried = np.clip(dots - step * free, 0, 1)
        tried_cost = _cost(tried, start, aim, stacks, hold)
        better = tried_cost < cost
        dots[better], cost[better] = tried[better], tried_cost[better]
        damping = np.clip(np.where(better, damping / 4, damping * 5), 1e-6, 1e3)
    return dots


def _cost(dots: F64, start: F64, aim: F64, stacks: Array, hold: F64) -> F64:
    cost: F64 = ((_root(demichel(dots) @ stacks) - aim) ** 2).sum(axis=1) + (hold * (dots - start) ** 2).sum(axis=1)
    return cost


def _slopes(dots: F64, mean: F64, stacks: Array) -> F64:
    """Return how the cube roots of the mean colour change with each dot, (m, 3, n)."""
    slope = np.empty((len(dots), 3, dots.shape[1]))
    for k in range(dots.shape[1]):
        low, high = dots.copy(), dots.copy()
        low[:, k], high[:, k] = 0, 1
        slope[:, :, k] = (demichel(high) - demichel(low)) @ stacks
    return slope * (1 / (3 * np.maximum(_root(mean), 0.05) ** 2))[:, :, None]


def _root(linear: Array) -> F64:
    root: F64 = np.cbrt(np.maximum(linear, 0))
    return root
