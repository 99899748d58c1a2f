"""Pictures of an inspection: the photograph laid straight with numbered rings, and each film with its own.

In: pictures and marks in mm. Out: (h, w, 3) uint8. Films are drawn as the screen is looked at from the squeegee side:
as the print reads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8


@dataclass(frozen=True, slots=True)
class Kind:
    """How marks of a kind are drawn, and the words that tell it."""

    colour: RGB8
    words: str


KINDS = {
    "pinhole": Kind((230, 60, 30), "red: pinholes"),
    "void": Kind((0, 120, 220), "blue: voids"),
    "line": Kind((150, 60, 190), "violet: lines that did not hold"),
}
LEAST_RING_MM = 2.6
WORDS_PX = 16
HEAD_PX = 34
INK_GREY = 70


@dataclass(frozen=True, slots=True)
class Ring:
    """A mark: its number, what it is, where (mm right and down) and how large."""

    number: int
    kind: str
    x_mm: float
    y_mm: float
    size_mm: float
    sure: bool = True


def ringed(picture: U8, rings: Sequence[Ring], *, px_per_mm: float, margin_mm: float, head: str) -> U8:
    """Return a picture whose top left is ``margin_mm`` outside the art, with rings, a line of words above.

    Rings of what is not sure are thin.
    """
    from PIL import Image, ImageDraw, ImageFont

    height, width = picture.shape[:2]
    sheet = Image.new("RGB", (max(width, 560), height + HEAD_PX), (255, 255, 255))
    sheet.paste(Image.fromarray(picture), (0, HEAD_PX))
    draw = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(WORDS_PX)
    draw.text((8, 8), head, fill=(20, 20, 20), font=font)
    for ring in rings:
        x, y = ((v + margin_mm) * px_per_mm for v in (ring.x_mm, ring.y_mm))
        y += HEAD_PX
        radius = max(LEAST_RING_MM, ring.size_mm) * px_per_mm / 2 + 4
        colour = KINDS[ring.kind].colour
        box = (x - radius, y - radius, x + radius, y + radius)
        draw.ellipse((box[0] - 1, box[1] - 1, box[2] + 1, box[3] + 1), outline=(255, 255, 255), width=1)
        draw.ellipse(box, outline=colour, width=3 if ring.sure else 1)
        words = str(ring.number)
        at = (x + radius * 0.75, y - radius - WORDS_PX * 0.6)
        draw.text(at, words, fill=colour, font=font, stroke_width=2, stroke_fill=(255, 255, 255))
    return np.asarray(sheet)


def film_picture(plane: U8, *, most_px: int) -> tuple[U8, float]:
    """Return a film (coverage 0..255) as grey on white, at most ``most_px`` across, and its scale."""
    from PIL import Image

    scale = min(1.0, most_px / max(plane.shape))
    size = (max(1, round(plane.shape[1] * scale)), max(1, round(plane.shape[0] * scale)))
    small = np.asarray(Image.fromarray(plane).resize(size, Image.Resampling.BOX), np.float32) / 255
    grey = np.rint(255 - small * (255 - INK_GREY)).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2), scale
