"""What plates look like printed: each distinct stack of plates has one colour, pixels average the stacks they hold.

In: plates in print order with coverage (h, w) uint8, and a function from a stack (indices of the plates that print, in
order) to linear light. Out: (h, w, 3) uint8 sRGB.
Averages are taken in linear light. Where halftones overlap, the shares of the 2^n stacks follow Demichel's products
(inks fall independently: screens at different angles); the colour is Neugebauer's sum over them. The soft edge of a
flat plate is no halftone: within such a pixel the inks lie side by side, and a base lies under them.
Sources: Demichel, Procédé 26:17 (1924); Neugebauer, Z. wiss. Photogr. 36:73 (1937).
Work is done in row bands; eight pixels that every plate fills or leaves are one word, one look-up; colours are cached
by the combination of coverages, so that a flat print costs few of them. Bands come as packed colours (``packed``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_linear
from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.coverage.bands import check_coverage, row_bands
from sepkit.inks.layers import printed_reflectance
from sepkit.preview.joins import joins_eased
from sepkit.preview.keys import MOST_PLATES, packed_keys, top_level, unpacked_keys
from sepkit.preview.strips import flat_stacks, with_dots

if TYPE_CHECKING:
    from sepkit.model import F64, U8, Bool, Garment, Plate

Array = np.ndarray[Any, np.dtype[Any]]
Stack = tuple[int, ...]
StackColour = Callable[[Stack], Array]
"""Linear sRGB, (3,), of a stack: indices of the plates that print, in print order; () is the garment."""
ToneCurve = Callable[["Plate", "F64"], "F64"]
"""Tints printed, 0..1, of tints asked of a plate, 0..1."""
Rows = slice | tuple[slice, slice]
"""Rows of a plane, or a window of it."""
Shown = Callable[[Rows, list["U8"], "list[Bool | None]"], list["U8"]]
"""The planes of some rows as they are to be drawn, from their rows, those planes and their masks of tone."""
Which = Literal["printed", "coverage"]

BAND_PIXELS = 1 << 19
CACHE_BITS = 18
WORD_PX = 8
"""Pixels of a plane that are looked at as one number of 64 bits."""
MOST_IN_DOTS = 8
"""With more plates than these few of all stacks are in use, and pixels are mixed from those they have."""
DOTS_AT_ONCE = 1 << 20
"""Shares of stacks held at once while dots are mixed."""
SOLID_WORD = np.uint64(0xFFFFFFFFFFFFFFFF)
MOSTLY = 0.4
"""From this share of part-covered pixels on a band is looked up whole: taking the parts out would cost more."""
HASH = np.uint64(0x9E3779B97F4A7C15)
"""2^64 over the golden ratio (multiplicative hashing; Knuth, The Art of Computer Programming, vol. 3, 6.4)."""


def printed_rgb(
    plates: Sequence[Plate],
    garment: Garment,
    *,
    which: Which = "printed",
    tone_curve: ToneCurve | None = None,
    cloth_reflectance: F64 | None = None,
) -> U8:
    """Return the predicted print on the garment, (h, w, 3) uint8 sRGB, on the plates' own pixel grid.

    ``which`` takes the plates after trap and choke, or as the art asks them.
    ``tone_curve`` is the press's dot gain in tones; without it tints print as asked (films that compensate).
    """
    bands = printed_bands(
        plates, garment, which=which, tone_curve=tone_curve, cloth_reflectance=cloth_reflectance, band_rows=None
    )
    return _whole(bands, plates[0].coverage.shape)


def printed_bands(
    plates: Sequence[Plate],
    garment: Garment,
    *,
    which: Which = "printed",
    tone_curve: ToneCurve | None = None,
    cloth_reflectance: F64 | None = None,
    band_rows: int | None,
) -> Iterator[tuple[slice, Array]]:
    """Yield (rows, packed colours (n, w) uint32) of the predicted print from the top, as ``printed_rgb`` predicts it.

    ``band_rows`` rows at a time; None: as many as suit.
    """
    shown = shown_of(plates, tone_levels(plates, tone_curve), which=which)
    return _bands(
        [plate.printed if which == "printed" else plate.coverage for plate in plates],
        stack_colours(plates, garment, cloth_reflectance=cloth_reflectance),
        tones=[plate.tone for plate in plates],
        under=lies_under(plates),
        shown=shown,
        band_rows=band_rows,
    )


def shown_of(plates: Sequence[Plate], curves: Sequence[U8 | None], *, which: Which = "printed") -> Shown:
    """Return what draws the planes of some rows: joins eased, and ``curves`` (``tone_levels``) in tones."""
    eased = joins_eased(plates) if which == "printed" else None

    def shown(rows: Rows, planes: list[U8], masks: list[Bool | None]) -> list[U8]:
        here = planes if eased is None else eased(rows, planes)
        return [_toned(plane, mask, curve) for plane, mask, curve in zip(here, masks, curves, strict=True)]

    return shown


def tone_levels(plates: Sequence[Plate], curve: ToneCurve | None) -> list[U8 | None]:
    """Return for each plate what the press makes of each level, (256,) uint8; None where it prints as asked."""
    return [None if curve is None else _tone_levels(plate, curve) for plate in plates]


def colours_of_keys(keys: Array, plates: Sequence[Plate], garment: Garment) -> Array:
    """Return the packed colours of combinations of coverages (``packed_keys``), as the predicted print has them."""
    return _Mixer(len(plates), stack_colours(plates, garment), tuple(lies_under(plates)))._colours_of(keys)


def planes_seen(plates: Sequence[Plate], *, which: Which = "printed", tone_curve: ToneCurve | None = None) -> list[U8]:
    """Return the planes that a predicted print shows, (h, w) uint8 each: joins eased, the press's dot gain in tones."""
    planes = [plate.printed if which == "printed" else plate.coverage for plate in plates]
    eased = joins_eased(plates) if which == "printed" else None
    if eased is not None:
        planes = eased(slice(0, len(planes[0])), planes)
    if tone_curve is None:
        return planes
    return [
        _toned(plane, plate.tone, _tone_levels(plate, tone_curve)) for plane, plate in zip(planes, plates, strict=True)
    ]


def plane_seen(plates: Sequence[Plate], at: int, *, tone_curve: ToneCurve | None = None) -> U8:
    """Return plane ``at`` of ``planes_seen`` as printed, and make no other."""
    plate, eased = plates[at], joins_eased(plates, [at])
    plane = plate.printed
    if eased is not None:
        plane = eased(slice(0, len(plane)), [one.printed for one in plates])[at]
    return plane if tone_curve is None else _toned(plane, plate.tone, _tone_levels(plate, tone_curve))


def lies_under(plates: Sequence[Plate]) -> list[bool]:
    """Return which plates lie under or over others (base, highlight) and not beside them."""
    return [plate.role != "colour" or plate.is_base for plate in plates]


def stack_colours(plates: Sequence[Plate], garment: Garment, *, cloth_reflectance: F64 | None = None) -> StackColour:
    """Return the colour of each stack by layer optics: inks in print order, with their coats, on the cloth.

    The result may lie outside 0..1 (outside sRGB); averages need it so.
    """
    cloth = garment.reflectance if cloth_reflectance is None else cloth_reflectance

    def colour(stack: Stack) -> Array:
        seen = printed_reflectance([(plates[i].ink, float(plates[i].coats)) for i in stack], cloth)
        return reflectance_to_linear(seen)

    return colour


def stack_rgb(
    planes: Sequence[U8],
    stack_colour: StackColour,
    *,
    tones: Sequence[Bool | None] | None = None,
    under: Sequence[bool] | None = None,
    band_pixels: int = BAND_PIXELS,
) -> U8:
    """Return the picture of coverage planes (h, w) uint8 under ``stack_colour``, (h, w, 3) uint8 sRGB.

    ``tones`` are masks of halftoned pixels; elsewhere part coverage is a soft edge. ``under`` marks planes that lie
    under or over others (base, highlight) and not beside them. Raises ValueError for planes that do not fit together.
    """
    bands = _bands(
        planes,
        stack_colour,
        tones=list(tones) if tones is not None else [None] * len(planes),
        under=list(under) if under is not None else [False] * len(planes),
        shown=None,
        band_rows=max(1, band_pixels // max(planes[0].shape[1], 1)) if planes else None,
    )
    return _whole(bands, planes[0].shape if planes else (0, 0))


def packed(rgb: U8) -> Array:
    """Return (...,) uint32 that hold (..., 3) bytes in memory order, the fourth 0: one number, looked up at once."""
    four = np.zeros((*rgb.shape[:-1], 4), np.uint8)
    for k in range(3):
        four[..., k] = rgb[..., k]
    out: Array = four.view(np.uint32)[..., 0]
    return out


def unpacked(colours: Array) -> U8:
    """Return the (..., 3) bytes of packed colours (...,), as a view."""
    rgb: U8 = np.ascontiguousarray(colours).view(np.uint8).reshape(*colours.shape, 4)[..., :3]
    return rgb


def _whole(bands: Iterator[tuple[slice, Array]], shape: tuple[int, ...]) -> U8:
    out = np.empty((shape[0], shape[1], 3), np.uint8)
    for rows, colours in bands:
        out[rows] = unpacked(colours)
    return out


def _bands(
    planes: Sequence[U8],
    stack_colour: StackColour,
    *,
    tones: Sequence[Bool | None],
    under: Sequence[bool],
    shown: Shown | None,
    band_rows: int | None,
) -> Iterator[tuple[slice, Array]]:
    count = len(planes)
    if not 1 <= count <= MOST_PLATES:
        raise ValueError(f"{count} plates: 1 to {MOST_PLATES} can be stacked")
    for plane in planes:
        check_coverage(plane)
        if plane.shape != planes[0].shape:
            raise ValueError(f"plates of different size: {plane.shape} and {planes[0].shape}")
    mixer = _Mixer(count, stack_colour, tuple(under))
    height, width = planes[0].shape
    for band in row_bands(height, band_rows or max(1, BAND_PIXELS // max(width, 1))):
        rows = slice(band.start, band.stop)
        masks = [None if mask is None else mask[rows] for mask in tones]
        levels = [plane[rows] for plane in planes]
        yield rows, mixer.band(levels if shown is None else shown(rows, levels, masks), masks)


@dataclass(slots=True)
class _Mixer:
    """Colours of stacks and of combinations of coverages, kept from band to band."""

    count: int
    stack_colour: StackColour
    under: tuple[bool, ...]
    stack_linear: Array = field(init=False)
    stack_packed: Array = field(init=False)
    stack_known: Array = field(init=False)
    keys: Array = field(init=False)
    key_packed: Array = field(init=False)

    def __post_init__(self) -> None:
        size = 1 << self.count
        self.stack_linear = np.zeros((size, 3))
        self.stack_packed = np.zeros(size, np.uint32)
        self.stack_known = np.zeros(size, bool)
        self.keys = np.zeros(1 << CACHE_BITS, np.uint64)
        self.key_packed = np.zeros(1 << CACHE_BITS, np.uint32)
        self._know(np.zeros(1, np.intp))
        self.key_packed[0] = self.stack_packed[0]  # key 0, the bare garment, is what empty slots seem to hold

    def band(self, planes: list[U8], tones: list[Bool | None]) -> Array:
        """Return packed colours (n, w): words that are solid by their stack, the pixels of others one by one."""
        flat = [np.ascontiguousarray(plane).reshape(-1) for plane in planes]
        whole = len(flat[0]) // WORD_PX * WORD_PX
        solid = np.zeros(whole // WORD_PX, np.uint16)
        mixed = np.zeros(len(solid), bool)
        for i, plane in enumerate(flat):
            words = plane[:whole].view(np.uint64)
            solid |= (words == SOLID_WORD).astype(np.uint16) << np.uint16(i)
            mixed |= (words + np.uint64(1)) > np.uint64(1)  # all solid wraps to 0
        self._know(np.flatnonzero(np.bincount(solid[~mixed], minlength=1)))
        out = np.empty(len(flat[0]), np.uint32)
        out[:whole].reshape(-1, WORD_PX)[...] = self.stack_packed[solid][:, None]
        at = np.flatnonzero(mixed)
        masks = [None if mask is None else np.ascontiguousarray(mask).reshape(-1) for mask in tones]
        if len(at):
            words_of = [_words_at(plane[:whole], at) for plane in flat]
            tones_of = [None if mask is None else _words_at(mask[:whole], at) for mask in masks]
            out[:whole].reshape(-1, WORD_PX)[at] = self._pixels(words_of, tones_of)
        if whole < len(out):
            out[whole:] = self._pixels(
                [plane[whole:] for plane in flat], [None if mask is None else mask[whole:] for mask in masks]
            )
        return out.reshape(planes[0].shape)

    def _pixels(self, planes: list[U8], tones: list[Bool | None]) -> Array:
        """Return packed colours of pixels of which some are covered in part."""
        solid = np.zeros(planes[0].shape, np.uint16)
        part = np.zeros(planes[0].shape, bool)
        for i, plane in enumerate(planes):
            solid |= (plane == 255).astype(np.uint16) << np.uint16(i)
            part |= (plane - np.uint8(1)) < 254  # 0 wraps to 255
        if part.mean() > MOSTLY:
            return self._colours_of(packed_keys(planes, tones))
        self._know(np.flatnonzero(np.bincount(solid[~part], minlength=1)))
        out = self.stack_packed[solid]
        if part.any():
            keys = packed_keys([plane[part] for plane in planes], [None if m is None else m[part] for m in tones])
            out[part] = self._colours_of(keys)
        return out

    def _know(self, stacks: Array) -> None:
        for stack in stacks[~self.stack_known[stacks]]:
            on = tuple(i for i in range(self.count) if int(stack) >> i & 1)
            self.stack_linear[stack] = self.stack_colour(on)
            self.stack_packed[stack] = packed(_srgb8(self.stack_linear[stack]))
            self.stack_known[stack] = True

    def _colours_of(self, keys: Array) -> Array:
        """Return packed colours of keys (...), from a direct-mapped cache; those that are not there are mixed."""
        slots = ((keys * HASH) >> np.uint64(64 - CACHE_BITS)).view(np.int64)
        out: Array = self.key_packed[slots]
        missed = self.keys[slots] != keys
        while missed.any():
            keys_missed, slots_missed = keys[missed], slots[missed]
            self.keys[slots_missed] = keys_missed  # of several for one slot, one is there: others come again
            filled = np.zeros(len(self.keys), bool)
            filled[slots_missed] = True
            fresh = np.flatnonzero(filled)
            self.key_packed[fresh] = packed(self._mix(self.keys[fresh]))
            out[missed] = self.key_packed[slots_missed]
            missed[missed] = self.keys[slots_missed] != keys_missed
        return out

    def _mix(self, keys: Array) -> U8:
        levels, dots = unpacked_keys(keys, self.count)
        shares = levels / float(top_level(self.count))
        beside = ((shares > 0) & (shares < 1) & ~dots).any(axis=0) | (self.count > MOST_IN_DOTS)
        out = np.empty((len(keys), 3), np.uint8)
        out[~beside] = self._mix_dots(shares[:, ~beside])
        out[beside] = self._mix_strips(shares[:, beside], dots[:, beside])
        return out

    def _mix_dots(self, shares: Array) -> U8:
        """Return the colours of pixels whose plates are bare, solid or in dots: shares of all stacks (Demichel)."""
        stacks = 1 << self.count
        out = np.empty((shares.shape[1], 3), np.uint8)
        for start in range(0, len(out), max(1, DOTS_AT_ONCE // stacks)):
            some = slice(start, start + max(1, DOTS_AT_ONCE // stacks))
            weight = np.ones((1, shares[0, some].size))
            for share in shares[:, some]:
                weight = np.concatenate([weight * (1 - share), weight * share])
            used = np.flatnonzero(weight.any(axis=1))
            self._know(used)
            out[some] = _srgb8(weight[used].T @ self.stack_linear[used])
        return out

    def _mix_strips(self, shares: Array, dots: Array) -> U8:
        """Return the colours of pixels in which soft edges lie side by side."""
        owner, weight, stack = flat_stacks(np.where(dots, 0.0, shares), self.under)
        for i in range(self.count):
            owner, weight, stack = with_dots(owner, weight, stack, shares[i], dots[i], i)
        self._know(np.unique(stack))
        colour = self.stack_linear[stack]
        linear = [np.bincount(owner, weight * colour[:, k], minlength=shares.shape[1]) for k in range(3)]
        return _srgb8(np.stack(linear, axis=1))


def _words_at(plane: Any, at: Array) -> Any:
    """Return the words of a flat plane of bytes at these places, as pixels (n, WORD_PX): each is taken as a number."""
    return plane.view(np.uint64)[at].view(plane.dtype).reshape(-1, WORD_PX)


def _srgb8(linear: Array) -> U8:
    encoded: U8 = np.rint(np.clip(linear_to_srgb(linear), 0, 1) * 255).astype(np.uint8)
    return encoded


def _tone_levels(plate: Plate, curve: ToneCurve) -> U8 | None:
    """Return what the press makes of each level where the plate is a tone; None where it is none."""
    if plate.tone is None:
        return None
    printed = np.rint(np.clip(curve(plate, np.arange(256) / 255), 0, 1) * 255).astype(np.uint8)
    printed[0], printed[255] = 0, 255
    return printed


def _toned(plane: U8, tone: Bool | None, levels: U8 | None) -> U8:
    return plane if tone is None or levels is None else np.where(tone, levels[plane], plane)
