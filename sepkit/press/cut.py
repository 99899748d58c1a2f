"""What a page lost before it came: art cut by its edge, and letters that a computer drew as empty boxes.

In: a plane of coverage (h, w) uint8 of one ink. Out: boxes in mm. A program without a font draws a letter that it lacks
as an upright frame, each the same (the ".notdef" glyph: OpenType specification, "Recommendations for OpenType fonts").
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.parts import Parts
from sepkit.units import px_to_mm

if TYPE_CHECKING:
    from sepkit.model import U8

Box = tuple[float, float, float, float]

FILLS_SIDE = 0.5
"""Ink along more than this part of a side is a background or a frame."""
LEAST_MM, MOST_MM = 0.8, 25.0
"""Heights of letters."""
LEAST_BOXES = 2
"""One frame may be drawn; two alike in one line are letters that are missing."""
ASPECT = (0.3, 1.1)
"""Width over height of an empty letter."""


def cut_places(coverage: U8, *, dpi: float) -> list[Box]:
    """Return where ink runs into the edge of the page, but for what fills most of a side."""
    solid = coverage > 127
    height, width = solid.shape
    out: list[Box] = []
    for line, at, upright in (
        (solid[0], 0, False),
        (solid[-1], height, False),
        (solid[:, 0], 0, True),
        (solid[:, -1], width, True),
    ):
        if line.mean() > FILLS_SIDE:
            continue
        ends = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(np.int8), [0]])))
        for first, last in zip(ends[::2].tolist(), ends[1::2].tolist(), strict=True):
            if last - first < 2:
                continue
            box = (at, first, at, last) if upright else (first, at, last, at)
            out.append((_mm(box[0], dpi), _mm(box[1], dpi), _mm(box[2], dpi), _mm(box[3], dpi)))
    return out


def missing_letters(coverage: U8, *, dpi: float) -> list[Box]:
    """Return empty upright frames that stand in one line and are alike: letters that were not drawn."""
    parts = Parts.of(coverage > 127, corners=False)
    frames = []
    for number, (top, left, bottom, right) in enumerate(parts.boxes[1:].tolist(), 1):
        high, wide = bottom - top, right - left
        if not (LEAST_MM <= px_to_mm(high, dpi) <= MOST_MM and ASPECT[0] <= wide / high <= ASPECT[1] and wide >= 6):
            continue
        if _is_frame(parts.drawn(number)):
            frames.append((left, top, right, bottom))
    alike = [
        one
        for one in frames
        if sum(_alike(one, other) for other in frames) >= LEAST_BOXES  # itself among them
    ]
    return [(_mm(a, dpi), _mm(b, dpi), _mm(c, dpi), _mm(d, dpi)) for a, b, c, d in alike]


def _is_frame(shape: np.ndarray) -> bool:
    """Tell whether a shape is four straight sides around nothing."""
    high, wide = shape.shape
    sides = (shape[: max(1, high // 3)].any(axis=0), shape[:, : max(1, wide // 3)].any(axis=1))
    if not (
        shape[0].mean() > 0.9 and shape[-1].mean() > 0.9 and shape[:, 0].mean() > 0.9 and shape[:, -1].mean() > 0.9
    ):
        return False
    inner = shape[high // 3 : -(high // 3) or None, wide // 3 : -(wide // 3) or None]
    thickness = int(np.argmin(shape[high // 2])) if not shape[high // 2].all() else wide
    return bool(sides[0].all() and sides[1].all() and not inner.any() and 1 <= thickness <= wide // 3)


def _alike(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """Tell whether two frames have one height and width, and stand on one line."""
    same = abs((one[2] - one[0]) - (other[2] - other[0])) <= 1 and abs((one[3] - one[1]) - (other[3] - other[1])) <= 1
    return same and abs(one[3] - other[3]) <= 1


def _mm(pixels: float, dpi: float) -> float:
    return px_to_mm(float(pixels), dpi)
