"""A drawing of how to take the photograph: from the side, and as the frame should look.

Out: (h, w, 3) uint8, black on white with one accent, for a page that is printed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL import ImageDraw

    from sepkit.model import RGB8, U8

SIZE_PX = (1500, 760)
INK: RGB8 = (30, 30, 30)
PALE: RGB8 = (150, 150, 150)
ACCENT: RGB8 = (15, 110, 110)
CLOTH: RGB8 = (226, 228, 230)
WORDS_PX, LINE_PX = 24, 4


def guide_picture() -> U8:
    """Return the drawing."""
    from PIL import Image, ImageDraw

    image = Image.new("RGB", SIZE_PX, (255, 255, 255))
    draw = ImageDraw.Draw(image)
    _from_the_side(draw)
    _the_frame(draw)
    return np.asarray(image)


def _words(draw: ImageDraw.ImageDraw, at: tuple[float, float], text: str, colour: RGB8 = INK) -> None:
    from PIL import ImageFont

    draw.multiline_text(at, text, fill=colour, font=ImageFont.load_default(WORDS_PX), anchor="ma", align="center")


def _from_the_side(draw: ImageDraw.ImageDraw) -> None:
    middle, table = 375, 590
    draw.rectangle((60, table, 690, table + 16), fill=PALE)
    draw.rectangle((middle - 150, table - 12, middle + 150, table), fill=CLOTH, outline=INK, width=2)
    draw.rectangle((middle - 95, table - 18, middle + 95, table - 12), fill=ACCENT)
    draw.rounded_rectangle((middle - 62, 150, middle + 62, 172), 8, fill=INK)
    draw.rectangle((middle - 12, 172, middle + 12, 182), fill=INK)
    for side in (-1, 1):
        draw.line((middle, 186, middle + side * 118, table - 22), fill=PALE, width=2)
        lamp = (middle + side * 285, 300)
        draw.ellipse(
            (lamp[0] - 30, lamp[1] - 30, lamp[0] + 30, lamp[1] + 30), fill=(246, 214, 120), outline=INK, width=3
        )
        for spread in (-40, 0, 40):
            end = (middle + side * (60 + spread), table - 24)
            draw.line((lamp[0] - side * 30, lamp[1] + 24, *end), fill=(226, 178, 60), width=2)
        _words(draw, (lamp[0], 206), "lamp, or\nwindow")
    draw.line((middle + 14, 200, middle + 14, table - 30), fill=INK, width=1)
    _words(draw, (middle + 92, 270), "30 to\n60 cm")
    _words(draw, (middle, 84), "camera straight above,\nparallel to the print")
    _words(draw, (middle, table + 34), "flat on the platen or a table, smoothed, lint off")
    _words(draw, (middle, table + 68), "no flash, no shadow of hand or phone")
    _words(draw, (middle, 24), "From the side", ACCENT)


def _the_frame(draw: ImageDraw.ImageDraw) -> None:
    left, top, right, low = 820, 90, 1440, 560
    draw.rectangle((left, top, right, low), fill=CLOTH, outline=INK, width=LINE_PX)
    px, py, qx, qy = left + 110, top + 80, right - 110, low - 80
    draw.rectangle((px, py, qx, qy), outline=PALE, width=2)
    middle = ((px + qx) / 2, (py + qy) / 2)
    draw.ellipse((middle[0] - 130, middle[1] - 130, middle[0] + 130, middle[1] + 130), fill=ACCENT)
    draw.polygon(
        ((middle[0] - 70, middle[1] + 60), (middle[0], middle[1] - 90), (middle[0] + 70, middle[1] + 60)),
        fill=(244, 193, 78),
    )
    for x0 in (px + 40, qx - 112):
        for y in (py - 24, qy + 24):
            for nth, colour in enumerate(((255, 255, 255), (244, 193, 78), ACCENT)):
                x = x0 + 36 * nth
                draw.ellipse((x - 11, y - 11, x + 11, y + 11), fill=colour, outline=INK, width=2)
    draw.line((left + 6, middle[1], px - 4, middle[1]), fill=INK, width=3)
    _words(draw, (left + 56, middle[1] + 12), "2 cm\nof cloth")
    _words(draw, ((left + right) / 2, 24), "What the frame shows", ACCENT)
    _words(draw, ((left + right) / 2, low + 20), "the whole print with its check discs, 2 cm of cloth around it")
    _words(draw, ((left + right) / 2, low + 54), "8 pixels for each mm: a print of 300 mm fills 2400 pixels")
    _words(draw, ((left + right) / 2, low + 88), "tap the print to focus, hold still; JPEG in full size")
