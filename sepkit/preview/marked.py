"""The art with places marked: where lines are thin, gaps close, specks lie, or something is cut off.

Boxes in mm in, the worst first; picture out. Small places are ringed, wide ones framed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.preview.seen import art_seen, factor_for

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork

MOST_PX = 1600
RING_MM = 4.0
LEGEND_PX = 34
FRAME_PX = 7
COLOURS: dict[str, RGB8] = {
    "thin line": (214, 30, 120),
    "thin gap": (0, 130, 200),
    "speck": (230, 130, 0),
    "unexplained": (120, 60, 200),
    "cut by the edge": (200, 20, 20),
    "missing letter": (20, 140, 60),
}


def marked_picture(art: Artwork, ground: RGB8, marks: Sequence[tuple[str, tuple[float, float, float, float]]]) -> U8:
    """Return the art on ``ground`` with each mark (kind, box in mm: left, top, right, bottom) and a legend below.

    The picture is at most MOST_PX across; it is (h, w, 3) uint8.
    """
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(art_on_ground(art, ground, most_px=MOST_PX))
    px_per_mm = image.width / art.width_mm
    draw = ImageDraw.Draw(image)
    radius = max(6.0, RING_MM / 2 * px_per_mm)
    for kind, box_mm in reversed(marks):  # the worst on top
        left, top, right, bottom = (value * px_per_mm for value in box_mm)
        x, y = (left + right) / 2, (top + bottom) / 2
        colour = COLOURS.get(kind, COLOURS["thin line"])
        if max(right - left, bottom - top) <= 1.5 * radius:
            box = (x - radius, y - radius, x + radius, y + radius)
            draw.ellipse(box, outline=(255, 255, 255), width=5)
            draw.ellipse(box, outline=colour, width=3)
        else:
            box = (left - FRAME_PX, top - FRAME_PX, right + FRAME_PX, bottom + FRAME_PX)
            draw.rounded_rectangle(box, FRAME_PX, outline=(255, 255, 255), width=5)
            draw.rounded_rectangle(box, FRAME_PX, outline=colour, width=3)
    sheet = Image.new("RGB", (max(image.width, 420), image.height + LEGEND_PX), (255, 255, 255))
    sheet.paste(image, (0, 0))
    draw = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(18)
    left = 10
    for kind, colour in COLOURS.items():
        count = sum(1 for k, _ in marks if k == kind)
        if not count:
            continue
        draw.ellipse((left, image.height + 9, left + 16, image.height + 25), outline=colour, width=3)
        text = f"{kind}: {count}"
        draw.text((left + 22, image.height + 7), text, fill=(20, 20, 20), font=font)
        left += 40 + int(draw.textlength(text, font=font))
    return np.asarray(sheet)


def art_on_ground(art: Artwork, ground: RGB8, *, most_px: int) -> U8:
    """Return the art composited on ``ground`` (encoded values, as renderers do), reduced to at most ``most_px``.

    Reduction averages in linear light.
    """
    height, width = art.alpha.shape
    return art_seen(art.rgb, art.alpha, ground, factor=factor_for((height, width), most_px))
