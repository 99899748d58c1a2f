"""One plate's film as packed rows, made in bands: memory does not grow with the film.

In: coverage (h, w) uint8 0..255, where it is a tone (h, w bool, or None when flat everywhere), its size in mm, the
halftone, and the film settings. Out: packed rows (n, ceil(width / 8)), MSB first, 1 = ink, top row first, right-reading
unless mirrored. The same bits come for every band height, and for a part of a film as for the whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import check_coverage, pack_bits, row_bands
from sepkit.errors import UsageError
from sepkit.film.crisp_rows import CrispRows
from sepkit.film.edges import without_outlines
from sepkit.film.halftone import Thresholds, crisp
from sepkit.film.outline import I16, I64, Upsampler, Window, film_size_px
from sepkit.film.remnants import cleaned_rows
from sepkit.film.screen import check_halftone, make_screen
from sepkit.film.tone import NO_GAIN, NO_LIMITS, DotGain, ToneLimits, drawn_fewer, tint_limits, tone_table

Bool = np.ndarray[Any, np.dtype[np.bool_]]

if TYPE_CHECKING:
    from sepkit.model import U8, Halftone

LEAST_DPI, MOST_DPI = 72.0, 4800.0
STRIP_ROWS = 16
NOWHERE, EVERYWHERE = 0, 255
"""Bytes of packed rows that are no tone, or tone all over."""


@dataclass(frozen=True, slots=True)
class FilmSettings:
    """How films are made. ``gain`` and ``limits`` act on tones only."""

    dpi: float = 720.0
    gain: DotGain = NO_GAIN
    limits: ToneLimits = NO_LIMITS
    mirror: bool = False
    band_rows: int = 128
    screen_x_px: int = 0
    """Film pixels from the screen's origin to the art's left edge: prints that share a sheet share one phase."""
    screen_y_px: int = 0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.dpi) and LEAST_DPI <= self.dpi <= MOST_DPI):
            raise UsageError(
                f"{self.dpi:g} dpi is outside {LEAST_DPI:g} to {MOST_DPI:g}",
                where="film dpi",
                hint="use the resolution of the film printer, such as 720",
            )
        if self.band_rows < 1:
            raise ValueError(f"band_rows must be at least 1, got {self.band_rows}")


@dataclass(frozen=True, slots=True, eq=False)
class ToneMask:
    """Where a plate is a tone, at 1 bit a pixel: a whole plane of it is a small part of its coverage."""

    bits: U8
    """(h, ceil(w / 8)) packed, MSB first, 1 = tone."""
    width: int

    @classmethod
    def pack(cls, mask: Bool) -> ToneMask:
        """Return the mask of a (h, w) bool plane."""
        return cls(pack_bits(mask), mask.shape[1])

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.bits.shape[0], self.width

    def rows(self, start: int, stop: int) -> Bool:
        """Return rows as bool."""
        return np.unpackbits(self.bits[start:stop], axis=1, count=self.width).view(bool)


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """A film, or a window of one, ready to be read in bands as often as needed."""

    coverage: U8
    tone: ToneMask | None
    halftone: Halftone | None
    step_x: float
    step_y: float
    window: Window
    whole: Window
    """All of the film: crumbs at the edge of a part are told from dots that go on beyond it."""
    settings: FilmSettings

    @property
    def width_px(self) -> int:
        """Film pixels across."""
        return self.window.width

    @property
    def height_px(self) -> int:
        """Film pixels down."""
        return self.window.height

    @property
    def dpi(self) -> float:
        """Film pixels per inch."""
        return self.settings.dpi

    def part(self, x: int, y: int, width: int, height: int) -> Film:
        """Return a window of this film, in its own pixels, with the bits of the whole."""
        if x < 0 or y < 0 or width < 1 or height < 1 or x + width > self.width_px or y + height > self.height_px:
            raise ValueError(f"part {x},{y} {width}x{height} is outside the film")
        # A mirrored film counts its columns from the other side.
        left = self.width_px - x - width if self.settings.mirror else x
        window = Window(self.window.x + left, self.window.y + y, width, height)
        return replace(self, window=window)

    def bands(self) -> Iterator[U8]:
        """Yield packed rows from the top; band heights may differ from ``band_rows``."""
        ink_px, gap_px = self._remnants_px()
        if self.halftone is None or self.tone is None:
            return self._crisp_bands()
        if not (ink_px or gap_px):
            return (rows for rows, _ in _RowMaker(self).bands(tones=False))
        around = self._around(max(ink_px, gap_px) + 1)
        rows = cleaned_rows(_RowMaker(around).bands(tones=True), around.width_px, ink_px=ink_px, gap_px=gap_px)
        return rows if around.window == self.window else self._cut(rows, around.window)

    def _crisp_bands(self) -> Iterator[U8]:
        """Yield packed rows of a film without dots."""
        settings = self.settings
        crisp_rows = CrispRows(
            self.coverage, step_x=self.step_x, step_y=self.step_y, window=self.window, mirror=settings.mirror
        )
        for band in row_bands(self.window.height, settings.band_rows):
            yield crisp_rows.band(band.start, band.stop)

    def _around(self, px: int) -> Film:
        """Return this part with so many pixels of the film on each side, where it has them."""
        here, whole = self.window, self.whole
        left, top = max(0, here.x - px), max(0, here.y - px)
        right, bottom = min(whole.width, here.x + here.width + px), min(whole.height, here.y + here.height + px)
        return replace(self, window=Window(left, top, right - left, bottom - top))

    def _cut(self, bands: Iterator[U8], outer: Window) -> Iterator[U8]:
        """Yield the packed rows of this part out of those of a window around it."""
        here = self.window
        left = here.x - outer.x
        if self.settings.mirror:
            left = outer.width - here.width - left
        row = outer.y - here.y
        for rows in bands:
            mine = rows[max(0, -row) : max(0, here.height - row)]
            row += len(rows)
            if len(mine):
                yield np.packbits(np.unpackbits(mine, axis=1)[:, left : left + here.width], axis=1)

    def _remnants_px(self) -> tuple[int, int]:
        """Half the smallest dot and gap in film pixels: what is smaller is a crumb, not a dot."""
        limits, pixels_per_um = self.settings.limits, self.settings.dpi / 25400
        return int(limits.dot_um * pixels_per_um / 2), int(limits.gap_um * pixels_per_um / 2)


def plan_film(
    coverage: U8,
    tone: Bool | ToneMask | None,
    halftone: Halftone | None,
    *,
    width_mm: float,
    height_mm: float,
    settings: FilmSettings,
) -> Film:
    """Return the film of one plate at its printed size.

    coverage is (h, w) uint8, 0 none, 255 solid; tone is (h, w) bool, True where dots are wanted, or None for crisp
    edges everywhere; without a halftone everything is crisp, and outlines from solid to nothing always are;
    width_mm and height_mm are the size of the print.

    Raises UsageError for a ruling that the film cannot draw and a size that is none.
    """
    check_coverage(coverage)
    if not (width_mm > 0 and height_mm > 0 and math.isfinite(width_mm) and math.isfinite(height_mm)):
        raise UsageError(f"{width_mm:g} x {height_mm:g} mm is no size", where="film", hint="give the print size in mm")
    if tone is not None and tone.shape != coverage.shape:
        raise ValueError(f"tone {tone.shape} and coverage {coverage.shape} differ")
    if isinstance(tone, np.ndarray):
        tone = ToneMask.pack(tone)
    if halftone is None or tone is None or not tone.bits.any():
        halftone, tone = None, None
    else:
        check_halftone(halftone, dpi=settings.dpi)
        tone = ToneMask(without_outlines(tone.bits, coverage), tone.width)
    width, height = film_size_px(width_mm, height_mm, settings.dpi)
    pixel_mm = 25.4 / settings.dpi
    return Film(
        coverage,
        tone,
        halftone,
        step_x=pixel_mm * coverage.shape[1] / width_mm,
        step_y=pixel_mm * coverage.shape[0] / height_mm,
        window=Window(0, 0, width, height),
        whole=Window(0, 0, width, height),
        settings=settings,
    )


def noise_dot_px(settings: FilmSettings) -> int:
    """Return the side of a blue-noise dot in film pixels: the mesh's smallest dot, rounded up."""
    return max(1, math.ceil(settings.limits.dot_um * settings.dpi / 25400))


class _RowMaker:
    """Makes the bands of one film; holds tables, no rows."""

    def __init__(self, film: Film) -> None:
        self.film = film
        window, settings = film.window, film.settings
        self.up = Upsampler(film.coverage, step_x=film.step_x, step_y=film.step_y, window=window)
        self.thresholds: Thresholds | None = None
        if film.halftone is not None and film.tone is not None:
            noise_px = noise_dot_px(settings)
            limits, dots = settings.limits, film.halftone
            fewer = tint_limits(limits, dots) if drawn_fewer(limits, dots) else None
            screen = make_screen(dots, dpi=settings.dpi, noise_px=noise_px, fewer=fewer)
            noise_um = noise_px * 25400 / settings.dpi
            table = tone_table(settings.gain, settings.limits, film.halftone, noise_um=noise_um)
            self.thresholds = Thresholds(screen, table, x=window.x + settings.screen_x_px, width=window.width)
            self.tone_columns = _nearest(window.x, window.width, film.step_x, film.tone.shape[1])
            self.tone_rows = _nearest(window.y, window.height, film.step_y, film.tone.shape[0])

    def bands(self, *, tones: bool) -> Iterator[tuple[U8, U8 | None]]:
        """Yield packed rows and, when ``tones``, where they are tones (None for nowhere)."""
        window, coverage = self.film.window, self.film.coverage
        row_bytes = -(-window.width // 8)
        for band in row_bands(window.height, self.film.settings.band_rows):
            taps, weights = self.up.taps_down(band.start, band.stop)
            low, high = int(taps[0, 0]), int(taps[-1, -1]) + 1
            if not coverage[low:high].any():
                yield np.zeros((band.stop - band.start, row_bytes), np.uint8), None
                continue
            wide = self.up.across(low, high)
            rows = np.empty((band.stop - band.start, row_bytes), np.uint8)
            tone_rows = np.zeros_like(rows) if tones else None
            for strip in row_bands(band.stop - band.start, STRIP_ROWS):
                part = slice(strip.start, strip.stop)
                soft = self.up.down(wide, low, taps[part], weights[part])
                rows[part], tone = self._strip(soft, band.start + strip.start)
                if tone_rows is not None:
                    tone_rows[part] = tone
            yield rows, tone_rows

    def _strip(self, coverage: I16, start: int) -> tuple[U8, U8 | int]:
        """Return ink, and where it is a tone, packed, for coverage rows from window row ``start``."""
        tone_plane = self.film.tone
        if self.thresholds is None or tone_plane is None:
            return self._packed(crisp(coverage)), NOWHERE
        y = self.film.window.y + start
        wanted = self.tone_rows[start : start + coverage.shape[0]]
        source = tone_plane.rows(int(wanted[0]), int(wanted[-1]) + 1)
        if not source.any():
            return self._packed(crisp(coverage)), NOWHERE
        dots = self._packed(self.thresholds.screened(coverage, y + self.film.settings.screen_y_px))
        if source.all():
            return dots, EVERYWHERE
        tone = self._packed(source.take(self.tone_columns, axis=1))[wanted - wanted[0]]
        return (dots & tone) | (self._packed(crisp(coverage)) & ~tone), tone

    def _packed(self, ink: Bool) -> U8:
        return pack_bits(ink[:, ::-1] if self.film.settings.mirror else ink)


def _nearest(first: int, count: int, step: float, size: int) -> I64:
    """Return the source pixel under each film pixel."""
    at = np.floor((np.arange(first, first + count) + 0.5) * step).astype(np.int64)
    return np.asarray(np.clip(at, 0, size - 1))
