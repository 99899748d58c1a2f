"""Pictures of inks as PNG: a swatch card, a tint strip, and a plot of curves. sRGB, drawn with Pillow.

In: labels and 8-bit sRGB colours, or curves as (x, y) points. Out: a Pillow image; save_png writes it whole or not.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.folders.write import replace_file

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from sepkit.model import RGB8

PAPER: RGB8 = (255, 255, 255)
TEXT: RGB8 = (40, 40, 44)
FAINT: RGB8 = (205, 205, 210)
PATCH = 116
GAP = 12
MARGIN = 24
PLAIN = {ord("Δ"): "d", ord("²"): "2"}
"""Letters that Pillow's own font lacks."""
LINE = 18
CHIP = 30
CURVE_COLOURS: tuple[RGB8, ...] = ((20, 70, 140), (196, 60, 30), (30, 120, 70), (120, 60, 130))


@dataclass(frozen=True, slots=True)
class Swatch:
    """A patch, up to two lines below it, and the ground it lies on (drawn as a frame)."""

    rgb: RGB8
    label: str
    note: str = ""
    ground: RGB8 | None = None


@dataclass(frozen=True, slots=True)
class Curve:
    """A named line through points."""

    name: str
    points: tuple[tuple[float, float], ...]
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Zone:
    """A named stretch of the x axis."""

    start: float
    stop: float
    name: str
    rgb: RGB8


@dataclass(frozen=True, slots=True)
class PlotWords:
    """What a plot says: its title, and the names of its axes."""

    title: str
    across: str
    up: str


def swatch_rows(title: str, rows: Sequence[tuple[str, Sequence[Swatch]]]) -> Image.Image:
    """Return a card: a title, then rows of patches, each row with its own heading."""
    from PIL import Image, ImageDraw

    across = max(len(swatches) for _, swatches in rows)
    width = max(2 * MARGIN + across * (PATCH + GAP) + 50, 420)
    row_height = LINE + PATCH + 3 * LINE
    card = Image.new("RGB", (width, 2 * MARGIN + 2 * LINE + len(rows) * row_height), PAPER)
    draw = ImageDraw.Draw(card)
    _write(draw, (MARGIN, MARGIN - 6), title, size=18)
    top = MARGIN + 2 * LINE
    for heading, swatches in rows:
        _write(draw, (MARGIN, top), heading)
        for index, swatch in enumerate(swatches):
            _patch(draw, MARGIN + index * (PATCH + GAP), top + LINE + 4, swatch)
        top += row_height
    return card


def curve_plot(
    said: PlotWords,
    curves: Sequence[Curve],
    *,
    levels: Sequence[tuple[float, str]] = (),
    zones: Sequence[Zone] = (),
    chips: Sequence[tuple[float, RGB8]] = (),
    most_up: float | None = None,
) -> Image.Image:
    """Return a plot on a square-root x axis (small tints matter): zones behind, ``levels`` across, colours below.

    ``chips`` are (x, colour), drawn below the axis where they do not touch one another.
    """
    most_x = max(x for curve in curves for x, _ in curve.points)
    plot = _Plot(most_x, most_up or 1.05 * max(y for curve in curves for _, y in curve.points))
    plot.zones(zones)
    plot.axes()
    plot.levels(levels)
    plot.curves(curves)
    plot.chips(chips)
    plot.words(said)
    return plot.picture


class _Plot:
    """A plot as it is drawn: up to ``most_x`` across, on a square-root axis, and ``most_y`` up."""

    WIDTH, HEIGHT = 1000, 600
    LEFT, RIGHT, TOP, BOTTOM = 70, 190, 92, 110

    def __init__(self, most_x: float, most_y: float) -> None:
        from PIL import Image, ImageDraw

        self.most_x, self.most_y = most_x, most_y
        self.picture = Image.new("RGB", (self.WIDTH, self.HEIGHT), PAPER)
        self.draw = ImageDraw.Draw(self.picture)
        self.right, self.foot = self.WIDTH - self.RIGHT, self.HEIGHT - self.BOTTOM

    def place(self, x: float, y: float) -> tuple[float, float]:
        return (
            self.LEFT + (self.right - self.LEFT) * (max(x, 0) / self.most_x) ** 0.5,
            self.foot - (self.foot - self.TOP) * min(y / self.most_y, 1.0),
        )

    def zones(self, zones: Sequence[Zone]) -> None:
        for zone in zones:
            start, stop = self.place(zone.start, self.most_y), self.place(max(zone.stop, zone.start), 0)
            self.draw.rectangle([start, stop], fill=zone.rgb)
            _write(self.draw, (start[0], self.TOP - 22), zone.name)

    def axes(self) -> None:
        self.draw.line([self.place(0, self.most_y), self.place(0, 0), self.place(self.most_x, 0)], fill=TEXT, width=1)
        for x in (0, 1, 2, 3, 5, 10, 20, 30, 50, 75, 100):
            if x <= self.most_x:
                at = self.place(x, 0)
                self.draw.line([at, (at[0], at[1] + 5)], fill=TEXT)
                _write(self.draw, (at[0] - 6, at[1] + 7), f"{x:g}")
        step = next(s for s in (0.5, 1, 2, 5, 10, 20, 50, 100) if self.most_y / s <= 8)
        for index in range(int(self.most_y / step) + 1):
            at = self.place(0, index * step)
            self.draw.line([(at[0] - 5, at[1]), at], fill=TEXT)
            _write(self.draw, (at[0] - 34, at[1] - 8), f"{index * step:g}")

    def levels(self, levels: Sequence[tuple[float, str]]) -> None:
        for level, name in levels:
            if level <= self.most_y:
                self.draw.line([self.place(0, level), self.place(self.most_x, level)], fill=(150, 150, 155), width=1)
                _write(self.draw, (self.right + 10, self.place(0, level)[1] - 9), name)

    def curves(self, curves: Sequence[Curve]) -> None:
        """Draw curves, as many as there are colours, and their names above."""
        for number, (curve, colour) in enumerate(zip(curves, CURVE_COLOURS, strict=False)):
            _line(self.draw, [self.place(x, y) for x, y in curve.points], colour, dashed=curve.dashed)
            key_x, key_y = self.LEFT + number * 330, 52
            _line(self.draw, [(key_x, key_y), (key_x + 34, key_y)], colour, dashed=curve.dashed)
            _write(self.draw, (key_x + 42, key_y - 9), curve.name)

    def chips(self, chips: Sequence[tuple[float, RGB8]]) -> None:
        taken = -1.0
        for x, rgb in chips:
            left, right = self.place(x, 0)[0] - CHIP / 2, self.place(x, 0)[0] + CHIP / 2
            if left > taken:
                self.draw.rectangle([left, self.foot + 32, right, self.foot + 32 + CHIP], fill=rgb, outline=FAINT)
                taken = right

    def words(self, said: PlotWords) -> None:
        _write(self.draw, (self.LEFT, 12), said.title, size=18)
        _write(self.draw, (self.LEFT, self.HEIGHT - 34), said.across)
        _write(self.draw, (20, self.TOP - 22), said.up)


def save_png(image: Image.Image, path: Path, *, force: bool) -> None:
    """Write a PNG. Raises WriteError when the file exists and ``force`` is False, or cannot be written."""
    with replace_file(path, force=force) as part:
        image.save(part, format="PNG")


def _patch(draw: ImageDraw.ImageDraw, x: int, y: int, swatch: Swatch) -> None:
    frame = 14 if swatch.ground is not None else 0
    if swatch.ground is not None:
        draw.rectangle([x, y, x + PATCH, y + PATCH], fill=swatch.ground, outline=FAINT)
    draw.rectangle(
        [x + frame, y + frame, x + PATCH - frame, y + PATCH - frame],
        fill=swatch.rgb,
        outline=None if frame else FAINT,
    )
    _write(draw, (x, y + PATCH + 4), swatch.label, size=12)
    _write(draw, (x, y + PATCH + 4 + LINE), swatch.note, size=12)


def _line(draw: ImageDraw.ImageDraw, points: list[tuple[float, float]], colour: RGB8, *, dashed: bool) -> None:
    if not dashed:
        draw.line(points, fill=colour, width=3, joint="curve")
        return
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        count = max(1, int(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 / 8))
        for i in range(0, count, 2):
            a, b = i / count, min((i + 1) / count, 1.0)
            start, end = (x0 + (x1 - x0) * a, y0 + (y1 - y0) * a), (x0 + (x1 - x0) * b, y0 + (y1 - y0) * b)
            draw.line([start, end], fill=colour, width=2)


def _write(draw: ImageDraw.ImageDraw, at: tuple[float, float], text: str, *, size: int = 13) -> None:
    from PIL import ImageFont

    draw.text(at, text.translate(PLAIN), fill=TEXT, font=ImageFont.load_default(size))
