"""What kind of art a picture is, told before it is separated: what follows from it, and the option that overrules it.

In: sRGB and alpha. Out: a KindOfArt for people. Drawings on paper are told by the paper: a sheet with even light once
its shadows are divided out, few marks, next to nothing between; and no one exact colour, as programs fill with.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table, srgb8_to_lab
from sepkit.coverage.channels import greatest, least
from sepkit.intake import tuned
from sepkit.intake.laid import paper_and_pens
from sepkit.intake.light import evened
from sepkit.intake.sheet import find_sheet, straightened
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import F32, U8, ArtKind

JUDGED_PX = 900
"""Long side of the picture that is judged."""
CODE = "kind-of-art"
"""Of the finding that tells it."""


@dataclass(frozen=True, slots=True)
class KindOfArt:
    """A kind of art and the words to tell it with."""

    kind: ArtKind
    follows: str
    """What was done because of it."""
    overrule: str
    """The words to type for another way."""

    @property
    def finding(self) -> Finding:
        """It as a finding: the first that people read."""
        return Finding(CODE, "info", f"{WORDS[self.kind]}: {self.follows}", self.overrule)


WORDS: dict[ArtKind, str] = {
    "flat": "flat art",
    "drawing": "drawing on paper",
    "one-colour": "art of one colour",
    "tonal": "tonal art",
    "scanned": "printed and scanned",
    "plates": "separated elsewhere",
}


def is_drawing_on_paper(rgb: U8, alpha: U8) -> bool:
    """Tell whether a picture shows marks on a sheet of paper, under a lamp or on a scanner."""
    limits = tuned.KINDS
    if alpha.min() < 255 or min(alpha.shape) < 64 or _exact_share(rgb) > limits.exact_share:
        return False
    small = _reduced(rgb)
    sheet = find_sheet(small)
    if sheet is None:
        return False
    flat = straightened(small, sheet)
    _, a, b = np.median(srgb8_to_lab(flat[::3, ::3].reshape(-1, 3)), axis=0)
    if np.hypot(a, b) > limits.paper_chroma or linear_table()[int(np.median(flat[..., 1]))] < limits.sheet_light:
        return False
    under_light = evened(flat)
    even = linear_table()[paper_and_pens(under_light, sheet)[0]]
    lit = least(even)
    paper = float((lit > 1 - 2 * tuned.PAPER.paper_band).mean())
    drawn = float((lit < 0.5).mean())
    mid = 1 - paper - drawn
    return bool(
        paper >= limits.paper_share
        and limits.least_drawn <= drawn + mid / 2
        and drawn <= limits.most_drawn
        and mid <= limits.mid_share
        and _apart_share(lit) <= limits.apart_times * drawn
        and not _is_painted(even)
        and light_strays(linear_table()[flat][..., 1], least(linear_table()[under_light])) <= limits.light_stops
    )


def light_strays(light: F32, lit: F32) -> float:
    """Return how far the light on paper strays from a smooth field (a quadratic in x and y), in stops."""
    y, x = np.nonzero(lit > 1 - 2 * tuned.PAPER.paper_band)
    some = slice(None, None, max(1, len(y) // 20_000))
    y, x = y[some], x[some]
    stops = np.log2(np.maximum(light[y, x], 0.003))
    across, down = 2 * x / lit.shape[1] - 1, 2 * y / lit.shape[0] - 1
    field = np.stack([np.ones_like(across), across, down, across * down, across**2, down**2], axis=-1)
    return float(np.std(stops - field @ np.linalg.lstsq(field, stops, rcond=None)[0]))


def _is_painted(even: F32) -> bool:
    """Tell washes and shaded pictures from strokes: broad marks that get darker and lighter within themselves."""
    from scipy.ndimage import binary_dilation, binary_erosion, gaussian_filter, label

    limits = tuned.KINDS
    marks = least(even) <= 1 - 2 * tuned.PAPER.paper_band
    inside = binary_erosion(marks, iterations=limits.broad_px)
    if inside.sum() < limits.broad_share * marks.sum():
        return False
    stops = np.log2(np.maximum(gaussian_filter(even, (2, 2, 0)), 0.02))
    steps = greatest(np.hypot(*np.gradient(stops, axis=(0, 1))))
    inside &= ~binary_dilation(steps > limits.edge_stops, iterations=2)  # pens that touch are two marks
    if not inside.any():
        return False
    parts, count = label(inside)
    order = np.argsort(parts[inside], kind="stable")
    sizes = np.bincount(parts[inside], minlength=count + 1)[1:]
    ranges = [
        np.ptp(np.percentile(one, (10, 90), axis=0), axis=0).max()
        for one in np.split(stops[inside][order], np.cumsum(sizes)[:-1])
    ]
    return bool(np.average(ranges, weights=sizes) > limits.painted_stops)


def _apart_share(lit: F32) -> float:
    """Return the share of what is neither paper nor stroke and lies beside no stroke either."""
    from scipy.ndimage import binary_dilation

    stroke = lit < 0.5
    between = (lit <= 1 - 2 * tuned.PAPER.paper_band) & ~stroke
    return float((between & ~binary_dilation(stroke, iterations=3)).mean())


def _exact_share(rgb: U8) -> float:
    """Return the share of the commonest exact colour, one level more or less, as flat fills have it."""
    step = max(1, int(np.sqrt(rgb.shape[0] * rgb.shape[1] / 400_000)))
    planes = [np.ascontiguousarray(rgb[::step, ::step, k]) for k in range(3)]
    red, green, blue = ((plane >> 1).astype(np.int32).ravel() for plane in planes)
    top = int(np.bincount(red << 14 | green << 7 | blue).argmax())
    near = np.ones(planes[0].shape, bool)
    for plane, half in zip(planes, (top >> 14, top >> 7 & 127, top & 127), strict=True):
        near &= (plane >= max(2 * half - 1, 0)) & (plane <= min(2 * half + 2, 255))
    return float(near.mean())


def _reduced(rgb: U8) -> U8:
    from PIL import Image

    factor = max(rgb.shape[:2]) / JUDGED_PX
    if factor <= 1:
        return rgb
    size = (round(rgb.shape[1] / factor), round(rgb.shape[0] / factor))
    return np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BOX))
