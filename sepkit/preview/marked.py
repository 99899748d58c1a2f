"""The art with places marked: where lines are thin, gaps close, specks lie, or something is cut off.

Boxes in mm in, the worst first; picture out. Small places are ringed, wide ones framed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table, linear_to_srgb

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

    Reduction averages in linear light, a few rows at a time.
    """
    height, width = art.rgb.shape[:2]
    factor = max(1, -(-max(width, height) // most_px))
    if factor == 1:
        return _over(art.rgb, art.alpha, ground)
    rows = []
    table = linear_table()
    for top in range(0, height - height % factor or height, factor * 32):
        part = slice(top, min(top + factor * 32, height - height % factor or height))
        light = table[_over(art.rgb[part], art.alpha[part], ground)]
        light = light[:, : width - width % factor]
        h, w = light.shape[0] // factor, light.shape[1] // factor
        rows.append(light.reshape(h, factor, w, factor, 3).mean(axis=(1, 3)))
    return np.rint(linear_to_srgb(np.concatenate(rows)) * 255).astype(np.uint8)


def _over(rgb: U8, alpha: U8, ground: RGB8) -> U8:
    if alpha.min() == 255:
        return rgb
    share = alpha[..., None].astype(np.float32) / 255
    return np.rint(rgb * share + np.array(ground, np.float32) * (1 - share)).astype(np.uint8)
