"""A sheet of paper of which one side lies outside the picture: three sides and a phone's lens still tell how it lies.

In: corners and lines in pixels, the picture's size. Out: the four corners of the rectangle of the sheet that is seen.
The two sides that run out of the picture are parallel on paper, so they give one direction in space; the side across
lies in a known plane through the lens and at right angles to that: so the direction of all lines along it is known too
(as in Zhang and He 2007, which :mod:`~sepkit.intake.sheet` names), and the sheet can be cut along such a line.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.intake import tuned

if TYPE_CHECKING:
    from sepkit.model import F64

Line = tuple["F64", "F64"]


def seen_rectangle(left: Line, across: Line, right: Line, size: tuple[int, int]) -> F64 | None:
    """Return (4, 2) corners x, y: those of the side across, right then left, and two more where the picture ends.

    Each line is two points of a side; ``left`` and ``right`` run towards the border that cuts the sheet, and their
    second points lie on it. The order goes on round the sheet: left on the border, right on the border, right, left.
    None when the lines do not enclose a sheet.
    """
    focal = tuned.SHEET.camera_focal * max(size)
    middle = np.array(size, np.float64) / 2

    def ray(point: F64) -> F64:
        return np.append((point - middle) / focal, 1.0)

    def plane(line: Line) -> F64:
        return np.asarray(np.cross(ray(line[0]), ray(line[1])))

    def point(of: F64) -> F64 | None:
        return None if abs(of[2]) < 1e-12 else np.asarray(of[:2] / of[2] * focal + middle)

    one, other, top = plane(left), plane(right), plane(across)
    away = np.cross(one, other)
    if np.linalg.norm(away) < 1e-12:
        return None
    along = np.cross(top, away)
    corners = point(np.cross(one, top)), point(np.cross(other, top))
    ends = [
        (left[1], point(np.cross(np.cross(ray(left[1]), along), other))),
        (point(np.cross(np.cross(ray(right[1]), along), one)), right[1]),
    ]
    for low_left, low_right in ends:
        found = [p for p in (low_left, low_right, corners[1], corners[0]) if p is not None]
        if len(found) == 4 and all(_inside(p, size) for p in found[:2]):
            return np.array(found)
    return None


def _inside(point: F64, size: tuple[int, int]) -> bool:
    return bool((point >= -1).all() and (point <= np.array(size) + 1).all())
