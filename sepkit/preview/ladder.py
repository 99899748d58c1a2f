"""The ladder as a picture: the art, then the print with one ink, two inks, ..., each with its figures.

In: small predicted prints (h, w, 3) uint8 sRGB, all of one size, and words for each. Out: a sheet (uint8 sRGB).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sepkit.preview.compare import PAPER, SOFT_TEXT, TEXT

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8

PANEL_PX = 340
LEAST_CELL_PX = 260
MOST_ACROSS = 5
UNIT = 15
MARK: RGB8 = (36, 110, 78)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One panel: a picture, a headline, lines of words, the inks' colours, and whether it is marked."""

    picture: U8
    title: str
    lines: tuple[str, ...]
    colours: tuple[RGB8, ...] = ()
    marked: bool = False


def ladder_sheet(steps: Sequence[Step], *, title: str, panel_px: int = PANEL_PX) -> U8:
    """Return the sheet: one panel of at most ``panel_px`` for each step, in even rows of at most MOST_ACROSS."""
    height, width = steps[0].picture.shape[:2]
    scale = min(panel_px / width, panel_px / height)
    wide, tall = max(1, round(width * scale)), max(1, round(height * scale))
    lines = max(len(step.lines) for step in steps)
    cell_w = max(wide, LEAST_CELL_PX, *(_words_px(step) for step in steps))
    cell_h = tall + round(UNIT * (2.4 + 1.45 * lines))
    rows = -(-len(steps) // MOST_ACROSS)
    across = -(-len(steps) // rows)
    gap, head = 2 * UNIT, 3 * UNIT
    sheet = Image.new("RGB", (across * cell_w + (across + 1) * gap, head + rows * (cell_h + gap)), PAPER)
    draw = ImageDraw.Draw(sheet)
    draw.text((gap, head / 2 + 2), title, fill=TEXT, font=ImageFont.load_default(UNIT + 3), anchor="lm")
    for number, step in enumerate(steps):
        x = gap + number % across * (cell_w + gap)
        y = head + number // across * (cell_h + gap)
        picture = Image.fromarray(step.picture).resize((wide, tall), Image.Resampling.LANCZOS)
        sheet.paste(picture, (x, y))
        if step.marked:
            draw.rectangle((x - 5, y - 5, x + wide + 4, y + tall + 4), outline=MARK, width=3)
        _words(draw, step, x, y + tall)
    return np.asarray(sheet, np.uint8)


def _words_px(step: Step) -> int:
    font = ImageFont.load_default(UNIT - 2)
    return round(max((font.getlength(line) for line in step.lines), default=0))


def _words(draw: Any, step: Step, x: int, y: int) -> None:
    font, small = ImageFont.load_default(UNIT + 1), ImageFont.load_default(UNIT - 2)
    at = y + UNIT * 1.4
    draw.text((x, at), step.title, fill=MARK if step.marked else TEXT, font=font, anchor="lm")
    left = x + draw.textlength(step.title, font=font) + UNIT * 0.8
    for k, colour in enumerate(step.colours):
        box = (left + k * UNIT * 1.35, at - UNIT * 0.55, left + k * UNIT * 1.35 + UNIT, at + UNIT * 0.45)
        draw.rectangle(box, fill=colour, outline=SOFT_TEXT)
    for k, line in enumerate(step.lines):
        draw.text((x, at + UNIT * (1.6 + 1.45 * k)), line, fill=TEXT if k == 0 else SOFT_TEXT, font=small, anchor="lm")
