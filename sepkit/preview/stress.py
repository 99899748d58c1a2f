"""What shows when the press is off: the print with one plate shifted by the register error, in the worst direction.

In: plates with coverage (h, w) uint8, dots per inch, the register error in mm. Out: mm² of base that peeks out and of
garment that shows in gaps, as the art asks the plates and as they are printed (after trap and choke), and a picture.
Register error is how far two plates may fall apart, so one plate moves against all others, each in turn, in eight
directions. Peeking base is base with nothing over it; beside white ink of its own kind it does not count, for it looks
the same. A gap is garment inside the print, further than the error from the print's outline: there the art has ink.
Halftoned areas are left out: garment belongs between dots. Big plates are averaged down first; areas stay.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sepkit.preview.compare import PAPER, SOFT_TEXT, TEXT
from sepkit.preview.stack import StackColour, stack_rgb
from sepkit.separation.reach import choke, spread
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, Plate

Which = Literal["printed", "coverage"]

WHICH: tuple[Which, Which] = ("coverage", "printed")
WORK_PX = 2000
LEAST_ERROR_PX = 2.0
"""Averaging down stops here: an error of fewer pixels would be measured too coarsely."""
LEAST_SHARE = 51
HALF_PX = 0.5
DIRECTIONS_DEG = tuple(range(0, 360, 45))
LOUPE_MM = 14.0
MARK = np.array((255, 0, 170), np.float32)
"""Colour of the marks: no ink of a print looks like it."""


@dataclass(frozen=True, slots=True)
class Shift:
    """One plate moved against the others, in mm: right and down."""

    plate: int
    right_mm: float
    down_mm: float


@dataclass(frozen=True, slots=True)
class Exposed:
    """What shows in the worst case: base peeking out, garment in gaps; mm² and the shift that gives it."""

    peek_mm2: float
    peek_shift: Shift | None
    gap_mm2: float
    gap_shift: Shift | None


@dataclass(frozen=True, slots=True)
class StressResult:
    """The worst cases without trap and choke, and with them."""

    before: Exposed
    after: Exposed
    error_mm: float


def stress(plates: Sequence[Plate], *, dpi: float, error_mm: float) -> StressResult:
    """Measure what shows when one plate is off by ``error_mm``, before and after trap and choke."""
    return StressResult(
        exposed(plates, which="coverage", dpi=dpi, error_mm=error_mm),
        exposed(plates, which="printed", dpi=dpi, error_mm=error_mm),
        error_mm,
    )


def exposed(
    plates: Sequence[Plate], *, which: Which, dpi: float, error_mm: float, planes: Sequence[U8] | None = None
) -> Exposed:
    """Return the worst case over plates and directions; ``planes`` stand in for the plates' own, if given."""
    if error_mm <= 0:
        return Exposed(0.0, None, 0.0, None)
    scene = _Scene.of(plates, which, dpi, error_mm, planes)
    best: dict[str, tuple[float, Shift | None]] = {"peek": (0.0, None), "gap": (0.0, None)}
    for plate in range(len(scene.planes)):
        others = scene.without(plate)
        for shift in scene.shifts_of(plate):
            plane = scene.moved_plane(shift)
            for kind, picture in (("peek", scene.peek(shift, plane, others)), ("gap", scene.gap(plane, others))):
                if picture is None:
                    continue
                area = float(picture.sum(dtype=np.int64)) / 255 * scene.mm2_per_px
                if area > best[kind][0]:
                    best[kind] = (area, shift)
    return Exposed(best["peek"][0], best["peek"][1], best["gap"][0], best["gap"][1])


def stress_sheet(
    plates: Sequence[Plate],
    stack_colour: StackColour,
    result: StressResult,
    *,
    dpi: float,
    panel_px: int = 900,
) -> U8:
    """Return the picture: the worst shift without and with trap and choke, marked, and a loupe on the worst place.

    (h, w, 3) uint8. The shift shown is the worst one found without trap and choke.
    """
    shift = _worse(result.before)
    columns = []
    place: tuple[float, float] | None = None
    for which in WHICH:
        scene = _Scene.of(plates, which, dpi, result.error_mm, None)
        planes = scene.planes if shift is None else scene.shifted(shift)
        rgb = stack_rgb(planes, stack_colour, tones=scene.tones, under=scene.under)
        marks = np.zeros(planes[0].shape, np.uint8)
        if shift is not None:
            plane, others = scene.moved_plane(shift), scene.without(shift.plate)
            for picture in (scene.peek(shift, plane, others), scene.gap(plane, others)):
                marks = marks if picture is None else np.maximum(marks, picture)
        if place is None:
            place = _densest(marks, scene.px_per_mm)
        columns.append((rgb, marks, scene.px_per_mm, place))
    return _sheet(columns, result, plates, shift, panel_px)


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """Plates on the working grid, with what is asked of them."""

    planes: list[U8]
    tones: list[Bool | None]
    under: list[bool]
    base: list[int]
    inside: U8
    may_peek: U8
    px_per_mm: float
    error_mm: float

    @staticmethod
    def of(plates: Sequence[Plate], which: Which, dpi: float, error_mm: float, planes: Sequence[U8] | None) -> _Scene:
        factor = _factor(plates[0].coverage.shape, dpi, error_mm)
        px_per_mm = dpi / MM_PER_INCH / factor
        given = planes or [_plane_of(plate, which) for plate in plates]
        small = [_averaged(plane, factor) for plane in given]
        tones = [None if plate.tone is None else _averaged(plate.tone.astype(np.uint8) * 255, factor) > 0
                 for plate in plates]  # fmt: skip
        flat = np.full(small[0].shape, 255, np.uint8)
        for tone in tones:
            if tone is not None:
                flat[tone] = 0
        asked = _summed([_averaged(plate.coverage, factor) for plate in plates if plate.role != "underbase"])
        asked[flat == 0] = 255  # an area of dots is print, whatever its tone
        base = [i for i, plate in enumerate(plates) if plate.role == "underbase" or plate.also_base is not None]
        base_inks = {plates[i].ink for i in base}
        own = [small[i] for i, plate in enumerate(plates) if i not in base and plate.ink in base_inks]
        own += [_averaged(plate.coverage, factor) for plate in plates if plate.also_base is not None]
        reach = error_mm * px_per_mm
        may_peek = np.minimum(flat, 255 - spread(_summed(own), 2 * reach + 1)) if own else flat
        return _Scene(
            small, tones, [plate.role != "colour" or plate.also_base is not None for plate in plates], base,
            np.minimum(flat, choke(asked, reach + HALF_PX)), may_peek,
            px_per_mm, error_mm,
        )  # fmt: skip

    @property
    def mm2_per_px(self) -> float:
        return 1 / self.px_per_mm**2

    def shifts_of(self, plate: int) -> list[Shift]:
        """Return the plate's shifts by the error, in eight directions."""
        return [
            Shift(plate, self.error_mm * math.cos(math.radians(d)), self.error_mm * math.sin(math.radians(d)))
            for d in DIRECTIONS_DEG
        ]

    def moved_plane(self, shift: Shift) -> U8:
        """Return the shifted plate's plane."""
        plane = self.planes[shift.plate]
        return moved(plane, right_px=shift.right_mm * self.px_per_mm, down_px=shift.down_mm * self.px_per_mm)

    def shifted(self, shift: Shift) -> list[U8]:
        """Return all planes with one of them moved."""
        planes = list(self.planes)
        planes[shift.plate] = self.moved_plane(shift)
        return planes

    def without(self, plate: int) -> _Others:
        """Return what the other plates print together, base and all that lies on it."""
        base = [p for i, p in enumerate(self.planes) if i != plate and i in self.base]
        cover = [p for i, p in enumerate(self.planes) if i != plate and i not in self.base]
        none = np.zeros_like(self.planes[0])
        return _Others(_summed([none, *base]), _summed([none, *cover]))

    def peek(self, shift: Shift, plane: U8, others: _Others) -> U8 | None:
        """Return how much of each pixel is base with nothing over it; None when there is no base."""
        if not self.base:
            return None
        is_base = shift.plate in self.base
        base = _summed([others.base, plane]) if is_base else others.base
        cover = others.cover if is_base else _summed([others.cover, plane])
        return _clear(np.minimum(base - np.minimum(base, cover), self.may_peek))

    def gap(self, plane: U8, others: _Others) -> U8 | None:
        """Return how much of each pixel inside the print is bare garment; None when there is nothing to part."""
        if len(self.planes) - len(self.base) < 2:
            return None
        return _clear(np.minimum(self.inside, 255 - _summed([others.base, others.cover, plane])))


@dataclass(frozen=True, slots=True, eq=False)
class _Others:
    """What all plates but one print: the base among them, and the rest."""

    base: U8
    cover: U8


def moved(plane: U8, *, right_px: float, down_px: float) -> U8:
    """Return a plane moved by a fraction of pixels (linear between pixels); nothing comes in from outside."""
    out = plane
    for axis, by in ((1, right_px), (0, down_px)):
        whole = math.floor(by + 1e-6)
        part = round((by - whole) * 256)
        near = _slid(out, whole, axis)
        if part:
            far = _slid(out, whole + 1, axis)
            mixed = near.astype(np.uint16) * np.uint16(256 - part)
            mixed += far.astype(np.uint16) * np.uint16(part)
            mixed += np.uint16(128)
            near = (mixed >> np.uint16(8)).astype(np.uint8)
        out = near
    return out


def _plane_of(plate: Plate, which: Which) -> U8:
    if which == "printed":
        return plate.printed
    return plate.coverage if plate.also_base is None else plate.also_base


def _slid(values: U8, by: int, axis: int) -> U8:
    out = np.zeros_like(values)
    size = values.shape[axis]
    if abs(by) >= size:
        return out
    to, source = [slice(None)] * 2, [slice(None)] * 2
    to[axis] = slice(max(by, 0), size + min(by, 0))
    source[axis] = slice(max(-by, 0), size + min(-by, 0))
    out[tuple(to)] = values[tuple(source)]
    return out


def _factor(shape: tuple[int, ...], dpi: float, error_mm: float) -> int:
    wanted = -(-max(shape) // WORK_PX)
    allowed = int(error_mm * dpi / MM_PER_INCH / LEAST_ERROR_PX)
    return max(1, min(wanted, allowed))


def _averaged(plane: U8, factor: int) -> U8:
    if factor == 1:
        return plane
    out: U8 = np.asarray(Image.fromarray(plane).reduce(factor), np.uint8)
    return out


def _summed(planes: Sequence[U8]) -> U8:
    total = planes[0].copy()
    for plane in planes[1:]:
        np.add(total, np.minimum(plane, 255 - total), out=total)
    return total


def _clear(share: U8) -> U8:
    """Drop what soft edges leave where two of them meet exactly; slivers that show are far above it."""
    share[share < LEAST_SHARE] = 0
    return share


def _worse(exposed_: Exposed) -> Shift | None:
    return exposed_.peek_shift if exposed_.peek_mm2 >= exposed_.gap_mm2 else exposed_.gap_shift


def _densest(marks: U8, px_per_mm: float) -> tuple[float, float]:
    """Return the place in mm with most marks around it, or the middle."""
    step = max(1, int(LOUPE_MM * px_per_mm / 2))
    small = np.add.reduceat(np.add.reduceat(marks.astype(np.int32), np.arange(0, marks.shape[0], step), 0),
                            np.arange(0, marks.shape[1], step), 1)  # fmt: skip
    if not small.any():
        return marks.shape[1] / px_per_mm / 2, marks.shape[0] / px_per_mm / 2
    y, x = np.unravel_index(int(small.argmax()), small.shape)
    return (float(x) + 0.5) * step / px_per_mm, (float(y) + 0.5) * step / px_per_mm


def _sheet(
    columns: list[tuple[U8, U8, float, tuple[float, float]]],
    result: StressResult,
    plates: Sequence[Plate],
    shift: Shift | None,
    panel_px: int,
) -> U8:
    height, width = columns[0][0].shape[:2]
    scale = panel_px / max(height, width)
    wide, tall = max(1, round(width * scale)), max(1, round(height * scale))
    loupe = min(wide, round(0.62 * panel_px))
    unit = max(12, round(0.022 * panel_px))
    gap, head = 2 * unit, round(4.6 * unit)
    sheet = Image.new("RGB", (2 * wide + 3 * gap, head + tall + gap + loupe + 5 * unit), PAPER)
    draw = ImageDraw.Draw(sheet)
    font, small = ImageFont.load_default(unit), ImageFont.load_default(max(10, round(unit * 0.85)))
    draw.text((gap, 1.5 * unit), _title(result, plates, shift), fill=TEXT, font=font, anchor="lm")
    for place, (rgb, marks, px_per_mm, at) in enumerate(columns):
        x = gap + place * (wide + gap)
        found = (result.before, result.after)[place]
        name = ("As the art asks: no trap, no choke", "As printed: with trap and choke")[place]
        draw.text((x, head - unit), name, fill=TEXT, font=font, anchor="lm")
        whole = _marked(rgb, marks, grow_px=max(1.0, 0.8 / scale))
        sheet.paste(Image.fromarray(whole).resize((wide, tall), Image.Resampling.BOX), (x, head))
        box = _loupe_box(at, px_per_mm, width, height)
        draw.rectangle([x + box[0] * scale, head + box[1] * scale, x + box[2] * scale, head + box[3] * scale],
                       outline=tuple(int(v) for v in MARK), width=2)  # fmt: skip
        close = Image.fromarray(rgb).crop(box).resize((loupe, loupe), Image.Resampling.NEAREST)
        sheet.paste(close, (x, head + tall + gap))
        y = head + tall + gap + loupe
        words = f"base peeking out {found.peek_mm2:.1f} sq mm   gaps {found.gap_mm2:.1f} sq mm   (worst of all shifts)"
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
    grown = spread(marks, grow_px)[..., None].astype(np.float32) / 255
    out: U8 = np.rint(rgb * (1 - grown) + MARK * grown).astype(np.uint8)
    return out


def _loupe_box(at: tuple[float, float], px_per_mm: float, width: int, height: int) -> tuple[int, int, int, int]:
    side = min(width, height, max(4, round(LOUPE_MM * px_per_mm)))
    x = min(max(0, round(at[0] * px_per_mm - side / 2)), width - side)
    y = min(max(0, round(at[1] * px_per_mm - side / 2)), height - side)
    return x, y, x + side, y + side
