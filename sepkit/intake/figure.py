"""Art for one ink, whatever its colours: what is figure, what is ground, and the figure's coverage.

In: sRGB, alpha, the cloth's and the ink's lightness. Out: coverage (h, w) uint8, where it is tone, and the decision in
words. Which part is the figure is decided by border, area and holes:

- on transparency all that is opaque is the figure; where that holds a dark and a light part, the ink stands for the
  part that is on its own side of the cloth: white ink on dark cloth for the light one;
- else the part along the border is the ground, unless it is a mere frame round the rest;
- else the smaller part is the figure, and where both are as large, again the part on the ink's side of the cloth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.intake import tuned
from sepkit.intake.parts import TwoParts, dark_share, is_dark, luminance, two_parts

if TYPE_CHECKING:
    from sepkit.model import F32, U8, Bool, OneInkFrom

DARK_CLOTH_L = 50.0
LOOKED_AT_PX = 900
"""Longest side of the picture on which border and holes are counted."""
CLEAR_BORDER_SHARE = 0.5
"""Art whose border is more transparent than this stands on nothing."""
TONE_LEVELS = (8, 247)
"""Coverage between these is a tone where a whole picture is halftoned."""


@dataclass(frozen=True, slots=True, eq=False)
class OneInk:
    """The figure of some art, for one ink."""

    coverage: U8
    """(h, w), 0 none, 255 solid."""
    tone: Bool | None
    """(h, w) where it is halftoned; None when it is solid everywhere."""
    source: OneInkFrom
    """What was taken: never "auto"."""
    words: str
    """What is figure, what is ground, and why, in one line."""


@dataclass(frozen=True, slots=True)
class Figure:
    """Which part of the art is the figure, and why."""

    source: OneInkFrom
    why: str


def one_ink(rgb: U8, alpha: U8, source: OneInkFrom, *, ink_l: float, cloth_l: float) -> OneInk:
    """Return the coverage of the one ink for art of sRGB (h, w, 3) and alpha (h, w).

    ``source``: auto decides; shape takes all that is opaque, dark or light that part, tone all tones as a halftone.
    ``ink_l``, ``cloth_l``: L* of ink and cloth. The coverage is empty when the art has no such part.
    """
    parts = two_parts(rgb, alpha)
    if parts is None:
        return OneInk(np.zeros_like(alpha), None, "shape", "nothing is opaque")
    decided = Figure(source, "as asked") if source != "auto" else figure_of(rgb, alpha, parts, light=ink_l >= cloth_l)
    if decided.source == "shape":
        cover, words = alpha.copy(), "all that is opaque"
    elif decided.source == "tone":
        cover = _covered(_toned(rgb, cloth_l), alpha)
        tone = (cover > TONE_LEVELS[0]) & (cover < TONE_LEVELS[1])
        return OneInk(cover, tone if tone.any() else None, "tone", "all tones are halftoned")
    else:
        share = dark_share(rgb, parts)
        cover = _covered(share if decided.source == "dark" else 1 - share, alpha)
        words = f"its {decided.source} part"
    percent = 100 * float(cover.mean()) / 255
    return OneInk(cover, None, decided.source, f"{words} prints, {percent:.0f} % of the picture: {decided.why}")


def figure_of(rgb: U8, alpha: U8, parts: TwoParts, *, light: bool) -> Figure:
    """Return which part of the art is the figure. ``light``: whether the ink is lighter than the cloth."""
    mine: OneInkFrom = "light" if light else "dark"
    step = max(1, -(-max(alpha.shape) // LOOKED_AT_PX))
    seen = alpha[::step, ::step] > 127
    border = _border(seen)
    if (~seen[border]).mean() > CLEAR_BORDER_SHARE:
        if not parts.parted or min(parts.dark_share, 1 - parts.dark_share) < tuned.TWO_PARTS.clear_least_share:
            return Figure("shape", "it stands on transparency")
        return Figure(mine, f"it holds dark and light, and the ink is the {mine} one on this cloth")
    if not parts.parted:
        return Figure("shape", "it is all of one colour")
    dark = is_dark(rgb[::step, ::step], parts) & seen
    pale = ~dark & seen
    return _opaque_figure(dark, pale, border, mine)


def _opaque_figure(dark: Bool, pale: Bool, border: Bool, mine: OneInkFrom) -> Figure:
    limits = tuned.TWO_PARTS
    share = float(dark[border].sum()) / max(1, int((dark | pale)[border].sum()))
    if max(share, 1 - share) >= limits.border_share:
        ground_is_dark = share > 0.5
        ground = dark if ground_is_dark else pale
        words: tuple[OneInkFrom, OneInkFrom] = ("light", "dark") if ground_is_dark else ("dark", "light")
        if _is_frame(ground, border):
            return Figure(words[1], f"the {words[1]} along the border is a frame, the {words[0]} inside it is open")
        holes = _holes(ground, border)
        inside = f", in {holes} hole{'s' if holes > 1 else ''} too" if holes else ""
        return Figure(words[0], f"the {words[1]} along the border is the ground and stays open{inside}")
    part = float(dark.sum()) / max(1, int((dark | pale).sum()))
    if min(part, 1 - part) < limits.even_share:
        small: OneInkFrom = "dark" if part < 0.5 else "light"
        large = "light" if small == "dark" else "dark"
        return Figure(small, f"both parts meet the border, and the larger, {large} one stays open")
    return Figure(mine, f"dark and light are as large, and the ink is the {mine} one on this cloth")


def _border(seen: Bool) -> Bool:
    border = np.zeros(seen.shape, bool)
    border[[0, -1]] = border[:, [0, -1]] = True
    return border


def _is_frame(ground: Bool, border: Bool) -> bool:
    """Tell whether what hangs together with the border is a thin frame, and not the margin round one."""
    from scipy.ndimage import distance_transform_edt, label

    parts, _ = label(ground, np.ones((3, 3), int))
    outer = np.isin(parts, np.unique(parts[border & ground]))
    outer &= ground
    limits = tuned.TWO_PARTS
    if outer.mean() >= limits.frame_share or ground.mean() > 0.5:
        return False
    padded = np.pad(outer, 1, constant_values=True)  # beyond the border there is more of it, not another part
    depth = float(distance_transform_edt(padded)[1:-1, 1:-1].max())
    return bool(depth <= limits.frame_depth * min(ground.shape))


def _holes(ground: Bool, border: Bool) -> int:
    """Return how many pieces of the ground's part do not hang together with the border."""
    from scipy.ndimage import label

    parts, count = label(ground)
    outer = np.unique(parts[border & ground])
    sizes = np.bincount(parts.ravel(), minlength=count + 1)
    sizes[outer] = sizes[0] = 0
    return int((sizes >= 4).sum())


def _toned(rgb: U8, cloth_l: float) -> F32:
    """Return 0..1: on dark cloth the light, on light cloth the dark, by encoded luminance."""
    share = luminance(rgb)
    return share if cloth_l < DARK_CLOTH_L else np.asarray(1.0 - share, np.float32)


def _covered(share: F32, alpha: U8) -> U8:
    return np.asarray(np.rint(share * alpha), np.uint8)
