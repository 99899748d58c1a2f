"""The films themselves as proof: their bits laid over each other in ink, seen from a metre, held against the art.

In: plates, garment, how films are made, the art. Out: figures. Windows of the 1-bit films are taken at film
resolution, each pixel gets the colour of its stack of inks by layer optics, edges grow as the press's dot gain has
it, screens lie as far apart as the register error lets them; blocks are averaged in linear light and blurred by the
eye (S-CIELAB, Zhang and Wandell 1997). Small prints are taken whole, large ones in windows spread over what is
printed; cloth that is bare in art and print does not count.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spatial import pixels_per_degree, seen_lab
from sepkit.colorimetry.srgb import linear_table
from sepkit.model import Finding
from sepkit.plates.tonal.optics import Film, mean_light, stack_light
from sepkit.preview.keys import packed_keys, top_level, unpacked_keys
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.film.rows import Film as FilmRows
    from sepkit.model import F32, U8, Artwork, Bool, Garment, Plate

Array = np.ndarray[Any, np.dtype[Any]]

SEEN_CODE = "films-seen"
"""Of the finding that tells it."""
WINDOW_MM = 36.0
RIM_MM = 4.0
"""Of a window, which the blur reads and no figure counts."""
MOST_WINDOWS = 5
BLOCK_PER_MM = 3.5
"""Blocks of film pixels that are averaged: about so many to a millimetre, 60 to a degree at a metre."""
TURN_DEG = 137.508
"""From one screen's error of register to the next: the golden angle spreads them."""
MOST_EXACT = 7
"""Keys of more plates than this hold coarser levels."""


@dataclass(frozen=True, slots=True)
class FilmProof:
    """How the films print, as seen from a metre."""

    mean_de00: float
    p95_de00: float
    off_mean_de00: float
    """The mean with every screen out of register as far as the press may be."""
    plan_de00: float
    """Mean difference of the films in register to the coverages that were planned."""
    windows: int

    @property
    def record(self) -> dict[str, float]:
        """The figures for separation.json."""
        return {
            "mean_de00": round(self.mean_de00, 3),
            "p95_de00": round(self.p95_de00, 3),
            "out_of_register_mean_de00": round(self.off_mean_de00, 3),
            "from_plan_mean_de00": round(self.plan_de00, 3),
            "windows": self.windows,
        }


def films_seen_finding(proof: FilmProof, register_error_mm: float) -> Finding:
    """Return what the films look like, in words."""
    return Finding(
        SEEN_CODE,
        "info",
        f"its films, from a metre: ΔE00 {proof.mean_de00:.1f} from the art",
        "make one test print before the run",
        more=f"on average; {proof.p95_de00:.1f} or less on 95 %, {proof.off_mean_de00:.1f} on average with screens "
        f"{register_error_mm:g} mm apart. The bits of the films are laid over each other in these inks.",
    )


def film_proof(
    plates: Sequence[Plate], garment: Garment, art: Artwork, *, making: FilmMaking, register_error_mm: float
) -> FilmProof:
    """Return what the films of ``plates`` look like beside the art."""
    prover = _Prover(plates, garment, art, making)
    seen, off, plan = [], [], []
    windows = prover.windows()
    for window in windows:
        asked = prover.art(window)
        film, moved = prover.films(window, (0.0, register_error_mm))
        per_degree = pixels_per_degree(prover.blocks_per_mm)
        rim = min(round(RIM_MM * prover.blocks_per_mm), (min(asked.shape[:2]) - 1) // 4)
        inner = (slice(rim, -rim or None), slice(rim, -rim or None))
        labs = {key: seen_lab(light, per_degree)[inner] for key, light in
                (("art", asked), ("film", film), ("off", moved),
                 ("plan", prover.planned(window)))}  # fmt: skip
        there = prover.there(window, inner)  # bare cloth beside a print is no merit of it
        seen.append(delta_e_2000(labs["art"], labs["film"])[there])
        off.append(delta_e_2000(labs["art"], labs["off"])[there])
        plan.append(delta_e_2000(labs["plan"], labs["film"])[there])
    all_seen = np.concatenate(seen)
    return FilmProof(
        float(all_seen.mean()),
        float(np.percentile(all_seen, 95)),
        float(np.concatenate(off).mean()),
        float(np.concatenate(plan).mean()),
        len(windows),
    )


@dataclass(frozen=True, slots=True)
class _Window:
    """In film pixels."""

    x: int
    y: int
    width: int
    height: int


class _Prover:
    def __init__(self, plates: Sequence[Plate], garment: Garment, art: Artwork, making: FilmMaking) -> None:
        from sepkit.film.outline import film_size_px

        self.plates, self.garment, self.artwork, self.making = plates, garment, art, making
        self.width, self.height = film_size_px(art.width_mm, art.height_mm, making.dpi)
        self.block = max(1, round(making.dpi / MM_PER_INCH / BLOCK_PER_MM))
        self.blocks_per_mm = making.dpi / MM_PER_INCH / self.block
        self.stacks = stack_light([Film(plate.ink, plate.coats) for plate in plates], garment.reflectance)
        self.rows = [self._rows(plate) for plate in plates]

    def _rows(self, plate: Plate) -> FilmRows:
        from sepkit.film.rows import plan_film
        from sepkit.press.filming import film_settings

        return plan_film(
            plate.printed,
            plate.tone,
            width_mm=self.artwork.width_mm,
            height_mm=self.artwork.height_mm,
            halftone=plate.halftone,
            settings=film_settings(self.making, plate.mesh, plate.halftone),
        )

    def windows(self) -> list[_Window]:
        """Return the windows: the whole of a small print, else some spread over it that hold most ink."""
        side = round(WINDOW_MM * self.making.dpi / MM_PER_INCH) // self.block * self.block
        wide, tall = self.width // self.block * self.block, self.height // self.block * self.block
        if wide * tall <= MOST_WINDOWS * side * side:
            return [_Window(0, 0, wide, tall)]
        side = min(side, wide, tall)
        every = [
            _Window(x, y, side, side)
            for y, x in product(_starts(tall, side, self.block), _starts(wide, side, self.block))
        ]
        inked = np.maximum.reduce([plate.printed for plate in self.plates])
        share = [float((self._cut(inked, window) > 0).mean()) for window in every]
        full = [window for window, part in zip(every, share, strict=True) if part > max(share) / 2]
        return full[:: max(1, -(-len(full) // MOST_WINDOWS))]

    def _cut(self, plane: Array, window: _Window) -> Array:
        """Return the pixels of an art plane (h, w, ...) under a window."""
        x, y = plane.shape[1] / self.width, plane.shape[0] / self.height
        rows = slice(int(window.y * y), max(math.ceil((window.y + window.height) * y), int(window.y * y) + 1))
        columns = slice(int(window.x * x), max(math.ceil((window.x + window.width) * x), int(window.x * x) + 1))
        return np.asarray(plane[rows, columns])

    def art(self, window: _Window) -> F32:
        """Return the art's linear light on the blocks of a window."""
        from sepkit.separation.noise import composite

        part = composite(self._cut(self.artwork.rgb, window), self._cut(self.artwork.alpha, window), self.garment.srgb)
        return self._on_blocks(linear_table()[part], window)

    def there(self, window: _Window, inner: tuple[slice, slice]) -> Bool:
        """Return the inner blocks of a window that the art or a screen has something in; all where none has."""
        some = self._cut(self.artwork.alpha, window) > 0
        for plate in self.plates:
            some = some | (self._cut(plate.printed, window) > 0)
        blocks = self._on_blocks(np.repeat(some[..., None], 3, axis=-1).astype(np.float32), window)[..., 0][inner] > 0
        return blocks if blocks.any() else np.ones_like(blocks)

    def planned(self, window: _Window) -> F32:
        """Return the light that the planned coverages average to."""
        planes = [self._cut(plate.printed, window) for plate in self.plates]
        levels, back = _combinations(planes)
        light = mean_light(levels, self.stacks)[back].reshape(*planes[0].shape, 3)
        return self._on_blocks(light.astype(np.float32), window)

    def _on_blocks(self, light: Array, window: _Window) -> F32:
        """Return an art-sized cut of linear light (h, w, 3) resampled to the window's blocks."""
        from PIL import Image

        x, y = self.artwork.rgb.shape[1] / self.width, self.artwork.rgb.shape[0] / self.height
        left, top = window.x * x - int(window.x * x), window.y * y - int(window.y * y)
        box = (left, top, min(left + window.width * x, light.shape[1]), min(top + window.height * y, light.shape[0]))
        size = (window.width // self.block, window.height // self.block)
        planes = [
            np.asarray(Image.fromarray(np.ascontiguousarray(light[..., c], np.float32)).resize(
                size, Image.Resampling.BILINEAR, box=box))
            for c in range(3)
        ]  # fmt: skip
        return np.stack(planes, axis=-1)

    def films(self, window: _Window, errors_mm: Sequence[float]) -> list[F32]:
        """Return the light of the films on the blocks of a window, each screen so far off in its direction."""
        layers = [self._printed(k, window, errors_mm) for k in range(len(self.plates))]
        return [self._light([of[k] for of in layers]) for k in range(len(errors_mm))]

    def _light(self, layers: Sequence[Array]) -> F32:
        """Return the mean light of blocks of layers."""
        if all(layer.dtype == bool for layer in layers):
            index = np.zeros(layers[0].shape, np.uint8)
            for k, layer in enumerate(layers):
                index |= layer.view(np.uint8) << np.uint8(k)
            return self._counted(index)
        dots = np.stack(layers, axis=-1).astype(np.float64)
        light = np.concatenate(
            [mean_light(rows, self.stacks) for rows in np.array_split(dots, max(1, len(dots) // 64))]
        )
        tall, wide = light.shape[0] // self.block, light.shape[1] // self.block
        return np.asarray(light.reshape(tall, self.block, wide, self.block, 3).mean(axis=(1, 3)), np.float32)

    def _counted(self, index: Array) -> F32:
        """Return the mean light of blocks of stack numbers: by how often each stack occurs in a block."""
        tall, wide, kinds = index.shape[0] // self.block, index.shape[1] // self.block, len(self.stacks)
        block = np.arange(tall).repeat(self.block)[:, None] * wide + np.arange(wide).repeat(self.block)
        counts = np.bincount((block * kinds + index).ravel(), minlength=tall * wide * kinds)
        shares = counts.reshape(tall, wide, kinds).astype(np.float32) / np.float32(self.block * self.block)
        out = np.zeros((tall, wide, 3), np.float32)
        for stack in np.flatnonzero(shares.any(axis=(0, 1))):
            out += shares[..., stack, None] * self.stacks[stack].astype(np.float32)
        return out

    def _printed(self, at: int, window: _Window, errors_mm: Sequence[float]) -> list[Array]:
        """Return what a screen prints in a window, so far off each: bool, or shares where edges grow."""
        plate = self.plates[at]
        turn = math.radians(TURN_DEG * at)
        per_mm = self.making.dpi / MM_PER_INCH
        moves = [(round(mm * per_mm * math.cos(turn)), round(mm * per_mm * math.sin(turn))) for mm in errors_mm]
        (left, *_, right), (top, *_, bottom) = (sorted((0, *way, 0)) for way in zip(*moves, strict=True))
        x0, y0 = max(window.x + left, 0), max(window.y + top, 0)
        x1, y1 = min(window.x + window.width + right, self.width), min(window.y + window.height + bottom, self.height)
        rows = np.concatenate(list(self.rows[at].part(x0, y0, x1 - x0, y1 - y0).bands()))
        film = np.zeros((window.height + bottom - top, window.width + right - left), bool)
        at_x, at_y = x0 - window.x - left, y0 - window.y - top
        film[at_y : at_y + y1 - y0, at_x : at_x + x1 - x0] = np.unpackbits(rows, axis=1, count=x1 - x0)
        edge_px = self.making.gain.edge_um / 1000 * per_mm
        grows = edge_px > 0 and plate.halftone is not None
        cuts = [film[dy - top :, dx - left :][: window.height, : window.width] for dx, dy in moves]
        return [_grown(cut, edge_px) if grows else cut for cut in cuts]


def _combinations(planes: Sequence[U8]) -> tuple[Array, Array]:
    """Return the different combinations of coverages (c, n) 0..1, and which of them each pixel has, (pixels,)."""
    if len(planes) <= MOST_EXACT:
        keys, back = np.unique(packed_keys(planes, [None] * len(planes)), return_inverse=True)
        return unpacked_keys(keys, len(planes))[0].T / top_level(len(planes)), back.ravel()
    levels, back = np.unique(np.stack(planes, axis=-1).reshape(-1, len(planes)), axis=0, return_inverse=True)
    return levels / 255, back.ravel()


def _grown(bits: Array, edge_px: float) -> Array:
    """Return bits as shares 0..1, their edges grown by a part of a pixel or more."""
    from scipy.ndimage import distance_transform_edt

    away = distance_transform_edt(~bits)
    return np.where(bits, 1.0, np.clip(edge_px + 1 - away, 0, 1)).astype(np.float32)


def _starts(length: int, side: int, step: int) -> list[int]:
    """Return where windows of a side start along a length, three at most, on whole steps."""
    if length <= side:
        return [0]
    count = 2 if length < 2 * side else 3
    return [round(k * (length - side) / (count - 1) / step) * step for k in range(count)]
