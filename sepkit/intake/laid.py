"""An evened sheet as paper and pens alone: without what is left of the table along its rim, and without its rulings.

In: sRGB of a sheet under even light. Out: the same with these painted as paper, and how many rulings there were.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table
from sepkit.coverage.channels import least
from sepkit.intake import tuned
from sepkit.intake.ruling import without_ruling

if TYPE_CHECKING:
    from sepkit.intake.sheet import Sheet
    from sepkit.model import U8


def paper_and_pens(even: U8, sheet: Sheet) -> tuple[U8, int]:
    """Return the sheet (h, w, 3) uint8, and the number of rulings that were painted over."""
    clean, count = without_ruling(even)  # first: rulings would tie the table to all that is drawn
    return (clean if sheet.flat and not sheet.whole else without_table(clean)), count


def without_table(even: U8) -> U8:
    """Return an evened sheet (h, w, 3) that was not cut out, what is left of the table along its rim painted as paper.

    A corner of the table lies along the rim with a large part of its outline; a stroke that leaves the picture touches
    it with its width alone.
    """
    from PIL import Image
    from scipy.ndimage import binary_dilation, binary_erosion, label

    limits = tuned.TABLE
    step = max(1, round(max(even.shape[:2]) / limits.looked_px))
    lost = Image.fromarray(1 - linear_table()[least(even)]).reduce(step)
    parts, count = label(np.asarray(lost) > limits.least_dark, np.ones((3, 3), int))
    lines = np.where(binary_erosion(parts > 0), 0, parts)
    outline = np.bincount(lines.ravel(), minlength=count + 1)
    rim = round(tuned.SHEET.inset_share * max(parts.shape)) + limits.soft_px
    lines[rim:-rim, rim:-rim] = 0
    along = np.bincount(lines.ravel(), minlength=count + 1)
    table = (along >= limits.along_share * outline) & (along >= limits.least_along * max(parts.shape))
    table[0] = False
    if not table.any():
        return even
    here = binary_dilation(table[parts], np.ones((3, 3), bool), iterations=limits.soft_px)
    whole = np.repeat(np.repeat(here, step, 0), step, 1)[: even.shape[0], : even.shape[1]]
    out = even.copy()
    out[: len(whole), : whole.shape[1]][whole] = 255
    return out
