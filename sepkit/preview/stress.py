"""What shows when the press is off: the print with one plate shifted by the register error, in the worst direction.

In: plates with coverage (h, w) uint8, dots per inch, the register error in mm. Out: mm² of base that peeks out and of
garment that shows in gaps, as the art asks the plates and as they are printed (after trap and choke), and a picture.
Register error is how far two plates may fall apart, so one plate moves against all others, each in turn, in eight
directions. Peeking base is base with nothing over it; beside white ink of its own kind it does not count, for it looks
the same. A gap is garment inside the print, further than the error from the print's outline: there the art has ink.
Halftoned areas are left out: garment belongs between dots. Big plates are averaged down first; areas stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sepkit.coverage.reach import spread
from sepkit.preview.compare import PAPER, SOFT_TEXT, TEXT
from sepkit.preview.scene import Asked, Grid, Scene, Shift, Which
from sepkit.preview.stack import StackColour, stack_rgb

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, Plate

WHICH: tuple[Which, Which] = ("coverage", "printed")
LOUPE_MM = 14.0
MARK = np.array((255, 0, 170), np.float32)
"""Colour of the marks: no ink of a print looks like it."""


@dataclass(frozen=True, slots=True)
class Exposed:
    """What shows in the worst case: base peeking out, garment in gaps; mm² and the shift that gives it."""

    peek_mm2: float
    peek_shift: Shift | None
    gap_mm2: float
    gap_shift: Shift | None


NOTHING = Exposed(0.0, None, 0.0, None)


@dataclass(frozen=True, slots=True, eq=False)
class StressResult:
    """The worst cases without trap and choke, and with them."""

    before: Exposed
    after: Exposed
    error_mm: float


def stress(plates: Sequence[Plate], *, dpi: float, error_mm: float) -> StressResult:
    """Measure what shows when one plate is off by ``error_mm``, before and after trap and choke."""
    if error_mm <= 0:
        return StressResult(NOTHING, NOTHING, error_mm)
    grid = Grid.of(plates[0].coverage.shape, dpi, error_mm)
    asked = Asked.of(plates, grid)
    before, after = (_worst(Scene.of(plates, which, grid, asked=asked)) for which in WHICH)
    return StressResult(before, after, error_mm)


def exposed(
    plates: Sequence[Plate], *, which: Which, dpi: float, error_mm: float, planes: Sequence[U8] | None = None
) -> Exposed:
    """Return the worst case over plates and directions; ``planes`` stand in for the plates' own, if given."""
    if error_mm <= 0:
        return NOTHING
    return _worst(Scene.of(plates, which, Grid.of(plates[0].coverage.shape, dpi, error_mm), planes=planes))


def _worst(scene: Scene) -> Exposed:
    best: dict[str, tuple[float, Shift | None]] = {"peek": (0.0, None), "gap": (0.0, None)}
    for shift, peek_mm2, gap_mm2 in scene.areas_mm2():
        for kind, area in (("peek", peek_mm2), ("gap", gap_mm2)):
            if area > best[kind][0] + 1e-9:
                best[kind] = (area, shift)
    return Exposed(best["peek"][0], best["peek"][1], best["gap"][0], best["gap"][1])


def stress_sheet(
    plates: Sequence[Plate], stack_colour: StackColour, *, dpi: float, error_mm: float, panel_px: int = 900
) -> tuple[U8, StressResult]:
    """Return the picture and what it tells: the worst shift without and with trap and choke, and a loupe on the place.

    (h, w, 3) uint8. The shift shown is the worst one found without trap and choke. One scene is held at a time, and
    its panel is drawn from planes averaged down to about ``panel_px``.
    """
    found: list[Exposed] = []
    columns: list[_Column] = []
    shift: Shift | None = None
    grid = Grid.of(plates[0].coverage.shape, dpi, error_mm)
    asked = Asked.of(plates, grid)
    for which in WHICH:
        scene = Scene.of(plates, which, grid, asked=asked)
        found.append(_worst(scene) if error_mm > 0 else NOTHING)
        shift = shift if columns else _worse(found[0])
        columns.append(_column(scene, shift, stack_colour, panel_px, columns[0] if columns else None))
        del scene
        grid.keep_only([plate.printed for plate in plates])
    result = StressResult(found[0], found[1], error_mm)
    return _sheet(columns, result, plates, shift, panel_px), result


@dataclass(frozen=True, slots=True, eq=False)
class _Column:
    """One half of the picture: the print with its marks, and what is under the loupe."""

    marked: U8
    close: U8
    box: tuple[float, float, float, float]
    """Left, top, right, bottom of the loupe, as shares of the picture's sides."""
    place_mm: tuple[float, float]
    drawn: _Drawn


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """The print averaged down: its planes and what they look like."""

    planes: list[U8]
    tones: list[Bool | None]
    rgb: U8


def _column(
    scene: Scene, shift: Shift | None, stack_colour: StackColour, panel_px: int, before: _Column | None
) -> _Column:
    planes = [plane[scene.shown] for plane in (scene.looks if shift is None else scene.shifted(shift))]
    tones = [None if tone is None else tone[scene.shown] for tone in scene.tones]
    marks = np.zeros_like(planes[0]) if shift is None else scene.marks(shift)[scene.shown]
    height, width = marks.shape
    place = _densest(marks, scene.px_per_mm) if before is None else before.place_mm
    x0, y0, x1, y1 = _loupe_box(place, scene.px_per_mm, width, height)
    close = stack_rgb(
        [plane[y0:y1, x0:x1] for plane in planes],
        stack_colour,
        tones=[None if tone is None else tone[y0:y1, x0:x1] for tone in tones],
        under=scene.under,
    )
    factor = max(1, max(height, width) // panel_px)
    drawn = _drawn([_small(plane, factor) for plane in planes], tones, factor, scene.under, stack_colour, before)
    grow_px = max(1.0, 0.8 * max(height, width) / panel_px) / factor
    marked = _marked(drawn.rgb, _strongest(marks, factor), grow_px=grow_px)
    return _Column(marked, close, (x0 / width, y0 / height, x1 / width, y1 / height), place, drawn)


def _drawn(
    planes: list[U8],
    tones: Sequence[Bool | None],
    factor: int,
    under: Sequence[bool],
    stack_colour: StackColour,
    before: _Column | None,
) -> _Drawn:
    """Return planes that are averaged down drawn: as in the column before but for pixels that are not the same."""
    if before is None:
        small = [None if tone is None else _small(tone.view(np.uint8) * np.uint8(255), factor) > 127 for tone in tones]
        return _Drawn(planes, small, stack_rgb(planes, stack_colour, tones=small, under=under))
    small, rgb = before.drawn.tones, before.drawn.rgb.copy()
    changed = np.logical_or.reduce([one != other for one, other in zip(planes, before.drawn.planes, strict=True)])
    if changed.any():
        some = [plane[changed][None] for plane in planes]
        masks = [None if tone is None else tone[changed][None] for tone in small]
        rgb[changed] = stack_rgb(some, stack_colour, tones=masks, under=under)[0]
    return _Drawn(planes, small, rgb)


def _small(plane: U8, factor: int) -> U8:
    return np.asarray(Image.fromarray(plane).reduce(factor), np.uint8) if factor > 1 else np.ascontiguousarray(plane)


def _strongest(marks: U8, factor: int) -> U8:
    """Return the strongest mark of each block: a sliver is seen, however small the picture."""
    for axis in (0, 1):
        lines = np.moveaxis(marks, axis, 0)
        out = lines[::factor].copy()
        for at in range(1, factor):
            part = lines[at::factor]
            np.maximum(out[: len(part)], part, out=out[: len(part)])
        marks = np.moveaxis(out, 0, axis)
    return np.ascontiguousarray(marks)


def _worse(exposed_: Exposed) -> Shift | None:
    return exposed_.peek_shift if exposed_.peek_mm2 >= exposed_.gap_mm2 else exposed_.gap_shift


def _densest(marks: U8, px_per_mm: float) -> tuple[float, float]:
    """Return the place in mm with most marks around it, or the middle."""
    step = max(1, int(LOUPE_MM * px_per_mm / 2))
    rows = range(0, len(marks), step)
    small = np.stack([np.add.reduce(marks[at : at + step], axis=0, dtype=np.int32) for at in rows])
    small = np.add.reduceat(small, np.arange(0, marks.shape[1], step), 1)
    if not small.any():
        return marks.shape[1] / px_per_mm / 2, marks.shape[0] / px_per_mm / 2
    y, x = np.unravel_index(int(small.argmax()), small.shape)
    return (float(x) + 0.5) * step / px_per_mm, (float(y) + 0.5) * step / px_per_mm


def _sheet(
    columns: list[_Column],
    result: StressResult,
    plates: Sequence[Plate],
    shift: Shift | None,
    panel_px: int,
) -> U8:
    height, width = columns[0].marked.shape[:2]
    scale = panel_px / max(height, width)
    wide, tall = max(1, round(width * scale)), max(1, round(height * scale))
    loupe = min(wide, round(0.62 * panel_px))
    unit = max(12, round(0.022 * panel_px))
    gap, head = 2 * unit, round(4.6 * unit)
    based = any(plate.is_base for plate in plates)
    sheet = Image.new("RGB", (2 * wide + 3 * gap, head + tall + gap + loupe + 5 * unit), PAPER)
    draw = ImageDraw.Draw(sheet)
    font, small = ImageFont.load_default(unit), ImageFont.load_default(max(10, round(unit * 0.85)))
    draw.text((gap, 1.5 * unit), _title(result, plates, shift), fill=TEXT, font=font, anchor="lm")
    for place, column in enumerate(columns):
        x = gap + place * (wide + gap)
        found = (result.before, result.after)[place]
        name = ("As the art asks: no trap, no choke", "As printed: with trap and choke")[place]
        draw.text((x, head - unit), name, fill=TEXT, font=font, anchor="lm")
        whole = Image.fromarray(column.marked)
        sheet.paste(whole.resize((wide, tall), Image.Resampling.BICUBIC), (x, head))
        left, top, right, bottom = column.box
        draw.rectangle(
            [x + left * wide, head + top * tall, x + right * wide, head + bottom * tall],
            outline=tuple(int(v) for v in MARK),
            width=2,
        )
        close = Image.fromarray(column.close).resize((loupe, loupe), Image.Resampling.NEAREST)
        sheet.paste(close, (x, head + tall + gap))
        y = head + tall + gap + loupe
        words = f"gaps {found.gap_mm2:.1f} sq mm   (worst of all shifts)"
        if based:
            words = f"base peeking out {found.peek_mm2:.1f} sq mm   {words}"
        draw.text((x, y + 1.4 * unit), words, fill=TEXT, font=font, anchor="lm")
        draw.text(
            (x, y + 3.0 * unit), f"loupe: {LOUPE_MM:g} mm wide, unmarked", fill=SOFT_TEXT, font=small, anchor="lm"
        )
    return np.asarray(sheet, np.uint8)


def _title(result: StressResult, plates: Sequence[Plate], shift: Shift | None) -> str:
    if shift is None:
        return f"Out of register by {result.error_mm:g} mm: nothing shows"
    across = "right" if shift.right_mm > 1e-6 else "left" if shift.right_mm < -1e-6 else ""
    along = "down" if shift.down_mm > 1e-6 else "up" if shift.down_mm < -1e-6 else ""
    where = " and ".join(word for word in (across, along) if word)
    return (
        f"Out of register: {plates[shift.plate].name} {result.error_mm:g} mm to the {where}"
        if across
        else (f"Out of register: {plates[shift.plate].name} {result.error_mm:g} mm {where}")
    )


def _marked(rgb: U8, marks: U8, *, grow_px: float) -> U8:
    """Return the picture with marks grown so that slivers show when the picture is made small."""
    grown = spread(marks, grow_px)
    marked = grown > 0
    share = grown[marked][:, None].astype(np.float32) / 255
    out = rgb.copy()
    out[marked] = np.rint(rgb[marked] * (1 - share) + MARK * share)
    return out


def _loupe_box(at: tuple[float, float], px_per_mm: float, width: int, height: int) -> tuple[int, int, int, int]:
    side = min(width, height, max(4, round(LOUPE_MM * px_per_mm)))
    x = min(max(0, round(at[0] * px_per_mm - side / 2)), width - side)
    y = min(max(0, round(at[1] * px_per_mm - side / 2)), height - side)
    return x, y, x + side, y + side
