"""A drawing of one screen: the frame with its prints where they lie, and what is open and taped at each step.

In: DrawnScreen (mm in frame coordinates: origin at the frame's inside top left as seen from the squeegee side, x right,
y down from end A to end B). Out: (h, w, 3) uint8. The large frame stands with end A above, as the film lies on it; the
small frames stand as they do at the press, the clamped end above, so that the open print is upright.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

    from sepkit.model import RGB8, U8

WIDTH_PX = 1500
FINE = 2
"""Drawn at so many times the size and reduced, for smooth edges."""

PAPER: RGB8 = (252, 251, 247)
INK: RGB8 = (38, 42, 48)
QUIET: RGB8 = (116, 122, 128)
RULE: RGB8 = (222, 219, 208)
FRAME: RGB8 = (188, 194, 200)
FRAME_EDGE: RGB8 = (120, 128, 136)
EMULSION: RGB8 = (126, 158, 152)
EMULSION_LINE: RGB8 = (108, 141, 136)
DARK_MESH: RGB8 = (56, 74, 72)
PALE_MESH: RGB8 = (228, 233, 226)
"""Open mesh behind a print: whichever its ink stands out from."""
TAPE: RGB8 = (224, 200, 148)
TAPE_LINE: RGB8 = (190, 160, 100)
ENDS: dict[str, RGB8] = {"A": (40, 72, 116), "B": (176, 80, 44)}
FRAME_MM = 24.0
MARGIN = 36
CARD_FRAME = 150
STEP_PX = 240
"""Width of a frame drawn alone, as on a card at the press."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnPrint:
    """A print where it lies on the frame."""

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotation: int
    """Degrees clockwise that the art is turned on the film."""
    end: str
    """ "A" or "B": the end at the clamp when it prints."""
    srgb: RGB8
    """The ink."""
    note: str = ""
    """One line for the table, such as the blade."""
    coverage: U8 | None = None
    """(h, w) uint8 upright, 0 none, 255 solid; None draws a plain rectangle."""


@dataclass(frozen=True, slots=True)
class DrawnStep:
    """One pull: which print is open, which are taped, what to do."""

    open: str
    taped: tuple[str, ...]
    end: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class DrawnScreen:
    """One frame."""

    title: str
    subtitle: str
    width_mm: float
    height_mm: float
    edge_mm: float
    ends_mm: float
    prints: tuple[DrawnPrint, ...]
    steps: tuple[DrawnStep, ...]


def draw_screen(screen: DrawnScreen) -> U8:
    """Return the drawing, WIDTH_PX wide and as high as it needs."""
    from PIL import Image, ImageDraw

    columns = 1 if len(screen.steps) <= 4 else 2
    card_w = 420 if columns == 1 else 330
    left_w = WIDTH_PX - 3 * MARGIN - columns * card_w - (columns - 1) * 24
    whole = (screen.width_mm + 2 * FRAME_MM, screen.height_mm + 2 * FRAME_MM)
    scale = min(left_w / whole[0], 900 / whole[1])
    cards = -(-len(screen.steps) // columns)
    card_h = CARD_FRAME * whole[1] / whole[0] + 34 if screen.steps else 0
    frame_h = whole[1] * scale
    top = 118
    height = round(max(top + frame_h + 60 + 30 * (len(screen.prints) + 1), top + cards * card_h) + MARGIN)
    page = Image.new("RGB", (WIDTH_PX * FINE, height * FINE), PAPER)
    pen = _Pen(page, ImageDraw.Draw(page))
    pen.text((MARGIN, 28), screen.title, 34, INK)
    pen.text((MARGIN, 72), screen.subtitle, 18, QUIET)
    left = MARGIN + (left_w - whole[0] * scale) / 2
    _draw_frame(pen, screen, (left, top + 12), scale)
    _draw_table(pen, screen, (MARGIN, top + frame_h + 44), left_w)
    x0 = 2 * MARGIN + left_w
    for k, step in enumerate(screen.steps):
        at = (x0 + (k // cards) * (card_w + 24), top + (k % cards) * card_h)
        _draw_card(pen, screen, step, (k + 1, at, card_w))
    return np.asarray(page.resize((WIDTH_PX, height), Image.Resampling.BOX))


class _Pen:
    """Draws in page pixels on the finer page."""

    def __init__(self, page: Image.Image, draw: ImageDraw.ImageDraw) -> None:
        self.page, self.draw = page, draw

    def box(
        self,
        at: tuple[float, float, float, float],
        *,
        fill: RGB8 | None = None,
        line: RGB8 | None = None,
        width: float = 1.0,
        radius: float = 0.0,
    ) -> None:
        """Draw a rectangle from (x0, y0) to (x1, y1)."""
        self.draw.rounded_rectangle(
            tuple(v * FINE for v in at), radius * FINE, fill=fill, outline=line, width=max(1, round(width * FINE))
        )

    def line(self, points: Sequence[tuple[float, float]], colour: RGB8, width: float = 1.0) -> None:
        """Draw a line through points."""
        self.draw.line([(x * FINE, y * FINE) for x, y in points], fill=colour, width=max(1, round(width * FINE)))

    def dashes(self, a: tuple[float, float], b: tuple[float, float], colour: RGB8, *, width: float = 1.0) -> None:
        """Draw a dashed line, 7 on and 5 off."""
        length = float(np.hypot(b[0] - a[0], b[1] - a[1]))
        for start in np.arange(0.0, length, 12.0).tolist():
            ends = [start / length, min(start + 7.0, length) / length]
            self.line([(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in ends], colour, width)

    def text(
        self, at: tuple[float, float], text: str, size: float, colour: RGB8, *, anchor: str = "la", room: float = 1e9
    ) -> None:
        """Write one line, smaller where it would not fit ``room``."""
        width = self.draw.textlength(text, font=_font(size)) / FINE
        font = _font(size if width <= room else max(9.0, size * room / width))
        self.draw.text((at[0] * FINE, at[1] * FINE), text, fill=colour, font=font, anchor=anchor)

    def width_of(self, text: str, size: float) -> float:
        """Return the width of a line."""
        return self.draw.textlength(text, font=_font(size)) / FINE


@lru_cache(maxsize=32)
def _font(size: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    from PIL import ImageFont

    return ImageFont.load_default(size * FINE)


def _draw_frame(pen: _Pen, screen: DrawnScreen, at: tuple[float, float], scale: float) -> None:
    """Draw the large frame with everything on it, end A above."""
    x0, y0 = at[0] + FRAME_MM * scale, at[1] + FRAME_MM * scale
    x1, y1 = x0 + screen.width_mm * scale, y0 + screen.height_mm * scale
    _bare_frame(pen, (x0, y0, x1, y1), FRAME_MM * scale)
    for y, end in ((at[1] + FRAME_MM * scale / 2, "A"), (y1 + FRAME_MM * scale / 2, "B")):
        pen.text(((x0 + x1) / 2, y), f"END {end}", FRAME_MM * scale * 0.55, ENDS[end], anchor="mm")
    inner = (
        x0 + screen.edge_mm * scale,
        y0 + screen.ends_mm * scale,
        x1 - screen.edge_mm * scale,
        y1 - screen.ends_mm * scale,
    )
    for a, b in (((0, 1), (2, 1)), ((2, 1), (2, 3)), ((2, 3), (0, 3)), ((0, 3), (0, 1))):
        pen.dashes((inner[a[0]], inner[a[1]]), (inner[b[0]], inner[b[1]]), EMULSION_LINE, width=1.2)
    middle = (x0 + x1) / 2
    pen.dashes((middle, y0), (middle, y1), PAPER, width=1.0)
    for one in screen.prints:
        box = _box(one, (x0, y0), scale)
        _draw_art(pen, one, box, one.rotation)
        _caption(pen, one, box, 36 * scale if _has_neighbour(one, screen) else (x1 - x0) / 2)
        _badge(pen, one.end, (box[0] + 1, box[1] + 1), 11)


def _caption(pen: _Pen, one: DrawnPrint, box: tuple[float, float, float, float], more: float) -> None:
    """Write the name and size below a print, over the centre line."""
    width, height = _upright(one)
    room, middle = box[2] - box[0] + more, (box[0] + box[2]) / 2
    for k, (line, size) in enumerate(((one.name, 16), (f"{_mm(width)} x {_mm(height)} mm", 14))):
        half = min(room, pen.width_of(line, size)) / 2 + 3
        pen.box((middle - half, box[3] + 3 + 18 * k, middle + half, box[3] + 22 + 18 * k), fill=EMULSION, line=EMULSION)
        pen.text((middle, box[3] + 4 + 18 * k), line, size, PAPER, anchor="ma", room=room)


def _has_neighbour(one: DrawnPrint, screen: DrawnScreen) -> bool:
    return any(
        other is not one and other.y_mm < one.y_mm + one.height_mm + 40 and one.y_mm < other.y_mm + other.height_mm
        for other in screen.prints
        if abs(other.x_mm + other.width_mm / 2 - one.x_mm - one.width_mm / 2) > 20
    )


def _draw_table(pen: _Pen, screen: DrawnScreen, at: tuple[float, float], width: float) -> None:
    """List where each print lies, for laying the film on the screen."""
    heads = ("print", "mm from the left", "mm from end A", "to the clamp", "")
    share = (0.0, 0.32, 0.5, 0.66, 0.8)
    x, y = at
    for head, part in zip(heads, share, strict=True):
        pen.text((x + part * width, y), head, 14, QUIET)
    for k, one in enumerate(screen.prints):
        row = y + 26 + 30 * k
        pen.line([(x, row - 3), (x + width, row - 3)], RULE)
        pen.box((x, row + 5, x + 14, row + 19), fill=one.srgb, line=QUIET, radius=3)
        turned = " (turned)" if one.end == "B" else ""
        cells = (one.name, _mm(one.x_mm), _mm(one.y_mm), f"end {one.end}{turned}", one.note)
        for n, (cell, part) in enumerate(zip(cells, share, strict=True)):
            shift, last = (22, share[1]) if n == 0 else (0, [*share, 1.0][n + 1])
            room = (last - part) * width - shift - 8
            colour = ENDS[one.end] if n == 3 else INK
            pen.text((x + part * width + shift, row + 3), cell, 16, colour, room=room)


def draw_step(screen: DrawnScreen, step: DrawnStep) -> U8:
    """Return the frame alone as it stands at the press in one step, (h, w, 3) uint8, STEP_PX wide."""
    from PIL import Image, ImageDraw

    height = round(STEP_PX / (screen.width_mm + 2 * FRAME_MM) * (screen.height_mm + 2 * FRAME_MM)) + 26
    page = Image.new("RGB", (STEP_PX * FINE, height * FINE), PAPER)
    _draw_at_press(_Pen(page, ImageDraw.Draw(page)), screen, step, ((0.0, 0.0), float(STEP_PX)))
    return np.asarray(page.resize((STEP_PX, height), Image.Resampling.BOX))


def _draw_card(pen: _Pen, screen: DrawnScreen, step: DrawnStep, place: tuple[int, tuple[float, float], float]) -> None:
    """Draw one step: the frame as it stands at the press, the open print upright, the others under tape."""
    number, (left, top), width = place
    _draw_at_press(pen, screen, step, ((left, top), CARD_FRAME))
    text_x, text_w = left + CARD_FRAME + 24, width - CARD_FRAME - 24
    pen.draw.ellipse([v * FINE for v in (text_x, top + 22, text_x + 28, top + 50)], fill=INK)
    pen.text((text_x + 14, top + 36), str(number), 17, PAPER, anchor="mm")
    pen.text((text_x + 38, top + 36), step.open, 19, INK, anchor="lm", room=text_w - 38)
    y = top + 62
    for line in step.lines:
        for k, part in enumerate(_wrapped(pen, line, 15, text_w)):
            pen.text((text_x + (0 if k == 0 else 10), y), part, 15, INK)
            y += 20


def _draw_at_press(pen: _Pen, screen: DrawnScreen, step: DrawnStep, place: tuple[tuple[float, float], float]) -> None:
    """Draw the frame under its clamp, at a top left corner and of a width."""
    (left, top), width = place
    scale = width / (screen.width_mm + 2 * FRAME_MM)
    bar = FRAME_MM * scale
    x0, y0 = left + bar, top + 22 + bar
    x1, y1 = x0 + screen.width_mm * scale, y0 + screen.height_mm * scale
    # The clamp holds the frame from above.
    pen.box(((x0 + x1) / 2 - 26, top + 6, (x0 + x1) / 2 + 26, top + 22 + bar * 0.6), fill=INK, radius=4)
    pen.text(((x0 + x1) / 2, top + 15), "clamp", 11, PAPER, anchor="mm")
    _bare_frame(pen, (x0, y0, x1, y1), bar)
    near, far = (y0 - bar / 2, y1 + bar / 2)
    other = "B" if step.end == "A" else "A"
    _badge(pen, step.end, (x0 + 8, near), 8)
    _badge(pen, other, (x0 + 8, far), 8)
    for one in screen.prints:
        seen = _at_press(one, screen) if step.end == "B" else one
        box = _box(seen, (x0, y0), scale)
        if one.name == step.open:
            _draw_art(pen, one, box, seen.rotation)
            pen.box((box[0] - 3, box[1] - 3, box[2] + 3, box[3] + 3), line=ENDS[step.end], width=2, radius=2)
        elif one.name in step.taped:
            _draw_tape(pen, (box[0] - 6, box[1] - 6, box[2] + 6, box[3] + 6))


def _bare_frame(pen: _Pen, inside: tuple[float, float, float, float], bar: float) -> None:
    x0, y0, x1, y1 = inside
    pen.box((x0 - bar, y0 - bar, x1 + bar, y1 + bar), fill=FRAME, line=FRAME_EDGE, width=1.2, radius=bar * 0.25)
    for sx, sy in ((x0, y0), (x1, y0), (x0, y1), (x1, y1)):
        dx, dy = (-bar if sx == x0 else bar), (-bar if sy == y0 else bar)
        pen.line([(sx, sy), (sx + dx * 0.93, sy + dy * 0.93)], FRAME_EDGE, 0.8)
    pen.box(inside, fill=EMULSION, line=FRAME_EDGE, width=1.2)


def _draw_art(pen: _Pen, one: DrawnPrint, box: tuple[float, float, float, float], rotation: int) -> None:
    """Draw a print in its ink, turned as it lies; without a picture a plain rectangle with an arrow to its top."""
    from PIL import Image

    pale = _contrast(one.srgb) == PAPER
    pen.box(box, fill=PALE_MESH if pale else DARK_MESH)
    if one.coverage is None:
        pen.box(box, fill=one.srgb, line=INK, width=1, radius=3)
        _top_arrow(pen, box, rotation, _contrast(one.srgb))
        return
    size = max(1, round((box[2] - box[0]) * FINE)), max(1, round((box[3] - box[1]) * FINE))
    plane = Image.fromarray(np.ascontiguousarray(np.rot90(one.coverage, -rotation // 90)))
    mask = plane.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    at = (round(box[0] * FINE), round(box[1] * FINE))
    pen.page.paste(one.srgb, (*at, at[0] + size[0], at[1] + size[1]), mask)
    pen.box(box, line=EMULSION_LINE, width=1)


def _top_arrow(pen: _Pen, box: tuple[float, float, float, float], rotation: int, colour: RGB8) -> None:
    """Draw an arrow from the middle of a print toward its top."""
    cx, cy = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    reach = 0.3 * min(box[2] - box[0], box[3] - box[1])
    dx, dy = {0: (0, -1), 90: (1, 0), 180: (0, 1), 270: (-1, 0)}[rotation]
    tip = (cx + dx * reach, cy + dy * reach)
    pen.line([(cx - dx * reach, cy - dy * reach), tip], colour, 2)
    side = reach * 0.45
    pen.line(
        [
            (tip[0] - dx * side - dy * side, tip[1] - dy * side + dx * side),
            tip,
            (tip[0] - dx * side + dy * side, tip[1] - dy * side - dx * side),
        ],
        colour,
        2,
    )


def _draw_tape(pen: _Pen, box: tuple[float, float, float, float]) -> None:
    """Draw tape, hatched so that it shows in grey too."""
    from PIL import Image, ImageDraw

    w, h = (max(2, round((box[k + 2] - box[k]) * FINE)) for k in (0, 1))
    tape = Image.new("RGB", (w, h), TAPE)
    draw = ImageDraw.Draw(tape)
    for start in range(-h, w, 7 * FINE):
        draw.line((start, h, start + h, 0), fill=TAPE_LINE, width=FINE)
    draw.rectangle((0, 0, w - 1, h - 1), outline=TAPE_LINE, width=FINE)
    pen.page.paste(tape, (round(box[0] * FINE), round(box[1] * FINE)))


def _badge(pen: _Pen, end: str, at: tuple[float, float], radius: float) -> None:
    pen.draw.ellipse(
        [v * FINE for v in (at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius)], fill=ENDS[end]
    )
    pen.text(at, end, radius * 1.3, PAPER, anchor="mm")


def _at_press(one: DrawnPrint, screen: DrawnScreen) -> DrawnPrint:
    """Return the print as it lies with the frame turned: (x, y) -> (-x, -y) from the frame's middle."""
    return DrawnPrint(
        one.name,
        screen.width_mm - one.x_mm - one.width_mm,
        screen.height_mm - one.y_mm - one.height_mm,
        one.width_mm,
        one.height_mm,
        (one.rotation + 180) % 360,
        one.end,
        one.srgb,
        one.note,
        one.coverage,
    )


def _upright(one: DrawnPrint) -> tuple[float, float]:
    return (one.width_mm, one.height_mm) if one.rotation % 180 == 0 else (one.height_mm, one.width_mm)


def _box(one: DrawnPrint, at: tuple[float, float], scale: float) -> tuple[float, float, float, float]:
    x, y = at[0] + one.x_mm * scale, at[1] + one.y_mm * scale
    return x, y, x + one.width_mm * scale, y + one.height_mm * scale


def _wrapped(pen: _Pen, text: str, size: float, room: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        if lines and pen.width_of(f"{lines[-1]} {word}", size) <= room - 10 * (len(lines) > 1):
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _contrast(rgb: RGB8) -> RGB8:
    return INK if 0.3 * rgb[0] + 0.6 * rgb[1] + 0.1 * rgb[2] > 140 else PAPER


def _mm(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
