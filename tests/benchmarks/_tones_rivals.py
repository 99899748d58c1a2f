"""Rivals of the tones benchmark: clusters with error diffusion; cyan, magenta, yellow, black inverted by Neugebauer.

In: a picture, its cloth, the size of the print. Out: plates that the same films and optics prove.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import linear_table, linear_to_lab, srgb8_to_lab
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import Halftone, Mesh, Plate
from sepkit.plates.tonal.metric import Wanted
from sepkit.plates.tonal.optics import Film, stack_light
from sepkit.plates.tonal.solve import solve_dots
from sepkit.press.advice import FOR_TONES, advise_halftone
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import U8, Bool, Garment, Ink

Array = np.ndarray[Any, np.dtype[Any]]

DIFFUSED_DPI = 110.0
"""Dots of 0.23 mm, about the smallest that the meshes for tones hold."""


def plate_of(order: int, ink: Ink, printed: U8, tone: Bool | None, *, coats: int = 1, base: bool = False,
             dots: Halftone | None = None, mesh: Mesh = FOR_TONES) -> Plate:  # fmt: skip
    """Return a plate that prints ``printed``."""
    return Plate(
        order, f"{order} {ink.name}", "underbase" if base else "colour", ink, None, ink.srgb, printed, printed, tone,
        coats, False, dots, mesh,
    )  # fmt: skip


def clustered(picture: U8, garment: Garment, white: Ink, count: int, width_mm: float) -> list[Plate]:
    """Return ``count`` inks mixed exactly to clusters of the colours, diffused, on a solid base on dark cloth."""
    from PIL import Image
    from sklearn.cluster import KMeans

    side = round(width_mm / 25.4 * DIFFUSED_DPI)
    tall = round(side * picture.shape[0] / picture.shape[1])
    small = np.asarray(Image.fromarray(picture).resize((side, tall), Image.Resampling.BOX))
    lab = srgb8_to_lab(small.reshape(-1, 3)).astype(float)
    some = lab[:: max(1, len(lab) // 20_000)]
    centres = KMeans(count, n_init=2, random_state=0).fit(some).cluster_centers_
    from sepkit.colorimetry.srgb import as_rgb8, lab_to_srgb8

    inks = [ink_from_swatch(to_hex(rgb), rgb, opacity="opaque") for rgb in (as_rgb8(lab_to_srgb8(c)) for c in centres)]
    dark = garment.lab[0] < 85
    base = [Film(white, 2)] if dark else []
    colours = [stack_light([], garment.reflectance)[0]]
    colours += [stack_light([*base, Film(ink)], garment.reflectance)[-1] for ink in inks]
    chosen = _diffused(linear_table()[small].astype(float), np.array(colours))
    planes = [np.where(chosen == k + 1, 255, 0).astype(np.uint8) for k in range(count)]
    plates = (
        [plate_of(1, white, np.where(chosen > 0, 255, 0).astype(np.uint8), None, coats=2, base=True)] if dark else []
    )
    return plates + [plate_of(k + 2, ink, plane, None) for k, (ink, plane) in enumerate(zip(inks, planes, strict=True))]


def _diffused(wanted: Array, colours: Array) -> Array:
    """Return the nearest of ``colours`` (k, 3) linear at each pixel, errors diffused (Floyd and Steinberg 1976).

    Pixels along x + 2y = t take from smaller t alone: they are worked together, as pixel by pixel.
    """
    lab = linear_to_lab(np.clip(colours, 0, 1))
    tall, wide = wanted.shape[:2]
    work = np.pad(wanted, ((0, 1), (1, 1), (0, 0)))
    out = np.zeros((tall, wide), np.uint8)
    for t in range(wide + 2 * (tall - 1)):
        y = np.arange(max(0, (t - wide + 2) // 2), min(tall - 1, t // 2) + 1)
        x = t - 2 * y + 1
        asked = work[y, x]
        near = linear_to_lab(np.clip(asked, 0, 1))
        best = ((lab - near[:, None]) ** 2).sum(2).argmin(axis=1)
        out[y, x - 1] = best
        error = np.clip(asked - colours[best], -0.5, 0.5)
        work[y + 1, x - 1] += error * (3 / 16)
        work[y, x + 1] += error * (7 / 16)
        work[y + 1, x] += error * (5 / 16)
        work[y + 1, x + 1] += error * (1 / 16)
    return out


def four_process(picture: U8, garment: Garment, shelf: Shelf) -> list[Plate]:
    """Return process yellow, magenta, cyan and black with the dots that each colour alone asks for."""
    inks = [shelf.ink(name) for name in ("process yellow", "process magenta", "process cyan", "black")]
    stacks = stack_light([Film(ink) for ink in inks], garment.reflectance)
    keys, back = np.unique(picture.reshape(-1, 3) >> 2, axis=0, return_inverse=True)
    wanted = Wanted.of(srgb8_to_lab((keys << 2) + 2).astype(float))
    dots = solve_dots(stacks, wanted, start=np.full((len(keys), 4), 0.3), steps=10, coats=np.zeros(4))
    levels = np.rint(dots * 255).astype(np.uint8)[back.ravel()]
    return in_dots([levels[:, k].reshape(picture.shape[:2]) for k in range(4)], inks)


def in_dots(planes: Sequence[U8], inks: Sequence[Ink]) -> list[Plate]:
    """Return halftoned plates of planes and their inks in print order."""
    return [
        plate_of(k + 1, ink, plane, plane > 0, dots=advise_halftone(FOR_TONES, nth=k))
        for k, (plane, ink) in enumerate(zip(planes, inks, strict=True))
    ]
