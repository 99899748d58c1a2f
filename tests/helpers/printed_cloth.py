"""A print as it lies on cloth, for simulated photographs: films as distances to their edges, and spectra of stacks.

Distances are mm, negative in ink, at FILM_PX_MM; coordinates are mm from the art's top left, right and down.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy import ndimage as ndi

from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.film.page import Solid
from sepkit.film.raster import page_rows
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.inks.layers import printed_reflectance

FILM_DPI = 480.0
FILM_PX_MM = FILM_DPI / 25.4
CLIP_MM = 1.6


@dataclass
class Printed:
    """What a press can print and a camera can see."""

    name: str
    width_mm: float
    height_mm: float
    margin_mm: float
    films: list  # float16 (h, w), with the margin around
    inks: list
    coats: list
    cloth: np.ndarray

    @property
    def centre(self):
        return np.array([self.width_mm / 2, self.height_mm / 2])

    def spectra(self, coats, bends):
        """(2^n, 31) reflectances of all stacks, with coats and absorption (31,) factors as printed."""
        inks = [replace(ink, absorption=ink.absorption * bend) for ink, bend in zip(self.inks, bends, strict=True)]
        n = len(inks)
        return np.array(
            [
                printed_reflectance(
                    [(inks[i], self.coats[i] * coats[i]) for i in range(n) if stack >> i & 1], self.cloth
                )
                for stack in range(1 << n)
            ]
        )

    def labs(self):
        """(2^n, 3) Lab of all stacks as planned."""
        n = len(self.inks)
        return reflectance_to_lab(self.spectra([1.0] * n, [np.ones(31)] * n))


def printed_folder(folder: Path, *, margin_mm: float = 9.0) -> Printed:
    """The print of a print folder, check discs and all."""
    from sepkit.files.folders.print_folder import read_print_folder
    from sepkit.film.check_discs import disc_marks

    kept = read_print_folder(folder)
    films = []
    for k, plate in enumerate(kept.plates):
        film = plan_film(
            plate.printed,
            plate.tone,
            plate.halftone,
            width_mm=kept.width_mm,
            height_mm=kept.height_mm,
            settings=FilmSettings(FILM_DPI),
        )
        bits = np.unpackbits(np.concatenate(list(film.bands())), axis=1)[:, : film.width_px].astype(bool)
        bits = np.pad(bits, round(margin_mm * FILM_PX_MM))
        for mark in disc_marks(kept.record.film.discs, k):
            _draw(bits, mark, margin_mm)
        films.append(_distance(bits))
    return Printed(
        folder.name,
        kept.width_mm,
        kept.height_mm,
        margin_mm,
        films,
        [plate.ink for plate in kept.plates],
        [float(plate.coats) for plate in kept.plates],
        np.asarray(kept.record.garment.reflectance),
    )


def side_by_side(one: Printed, *, gap_mm: float = 34.0) -> Printed:
    """Two prints of the same films on one cloth, the second to the right: its screens follow the first's."""
    pad = round((one.width_mm + gap_mm) * FILM_PX_MM)
    films = [np.pad(f, ((0, 0), (0, pad)), constant_values=CLIP_MM) for f in one.films]
    films += [np.pad(f, ((0, 0), (pad, 0)), constant_values=CLIP_MM) for f in one.films]
    wide = 2 * one.width_mm + gap_mm
    return replace(one, name="pair", width_mm=wide, films=films, inks=one.inks * 2, coats=one.coats * 2)


def printed_wedge(settings, inks, cloth, *, broken_mm: float = 0.0, rng=None) -> Printed:
    """The two screens of a calibration film; lines thinner than ``broken_mm`` print with breaks."""
    from sepkit.film.wedge import PAGE_MM, calibration_film

    films = []
    for page in calibration_film(replace(settings, dpi=FILM_DPI)).pages:
        bits = np.unpackbits(np.concatenate([np.asarray(b) for b in page_rows(page)]), axis=1)[:, : page.width_px]
        films.append(_distance(bits.astype(bool)))
    return Printed("wedge", *PAGE_MM, 0.0, films, list(inks), [1.0, 1.0], np.asarray(cloth))


def _draw(bits, mark: Solid, margin_mm: float) -> None:
    points = (np.array(mark.points) + margin_mm) * FILM_PX_MM
    (x0, y0), (x1, y1) = points.min(0), points.max(0)
    ys, xs = np.mgrid[int(y0) - 1 : int(y1) + 2, int(x0) - 1 : int(x1) + 2] + 0.5
    if len(points) == 4:
        inside = (xs > x0) & (xs < x1) & (ys > y0) & (ys < y1)
    else:
        inside = np.hypot(xs - (x0 + x1) / 2, ys - (y0 + y1) / 2) < (x1 - x0) / 2
    bits[int(y0) - 1 : int(y1) + 2, int(x0) - 1 : int(x1) + 2] |= inside


def _distance(bits, tile: int = 384):
    """Distance to the edge in mm, negative in ink, clipped; only tiles with an edge nearby are worked."""
    halo = int(np.ceil(CLIP_MM * FILM_PX_MM)) + 2
    out = np.where(bits, np.float32(-CLIP_MM), np.float32(CLIP_MM))
    h, w = bits.shape
    for y in range(0, h, tile):
        for x in range(0, w, tile):
            y0, x0 = max(0, y - halo), max(0, x - halo)
            part = bits[y0 : y + tile + halo, x0 : x + tile + halo]
            if part.all() or not part.any():
                continue
            far = np.where(part, 0.5 - ndi.distance_transform_edt(part), ndi.distance_transform_edt(~part) - 0.5)
            far = ndi.gaussian_filter(np.clip(far / FILM_PX_MM, -CLIP_MM, CLIP_MM).astype(np.float32), 0.7)
            out[y : y + tile, x : x + tile] = far[y - y0 : y - y0 + tile, x - x0 : x - x0 + tile]
    return out.astype(np.float16)
