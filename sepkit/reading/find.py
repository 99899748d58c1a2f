"""Where the print lies in a photograph: any turn, any size, any place.

In: a Subject and a Photo. Out: Place: a homography from film mm to photo pixels, how well it fits (-1 to 1), and how
well the next best place does. First masked normalised correlation of edge maps over turns and sizes by FFT (Padfield,
IEEE TIP 21:2706, 2012), then the best few are aligned (``align``). The numbers were chosen on simulated photographs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.reading.align import aligned, told_apart
from sepkit.reading.mixing import mixed
from sepkit.reading.picture import STEPS
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.model import F32, F64
    from sepkit.reading.align import Aligned
    from sepkit.reading.picture import Photo
    from sepkit.reading.subject import Subject

SIDE_PX = 96
"""The photograph is searched at about this size."""
TURNS = 48
SIZES = 9
SIZE_STEP = 0.91
Side = Literal["up", "right", "down", "left"]
"""A side of the photograph."""
TOPS: dict[Side, int] = {"up": 0, "right": 90, "down": 180, "left": 270}
"""Degrees that a photograph is turned by when the print's top is at that side of it."""
LARGEST = 1.03
"""The largest size tried over one that fills the frame."""
TEMPLATE_PX_PER_MM = 1.2
LEAST_SPREAD = 0.3
"""Places with less of the photograph's edges than this share of the fullest count as if they had it: bare corners
looked like a card of few lines with 0.02."""
KEPT = 6
FOLLOWED = 4
"""Places that are still apart after the first alignment and aligned further."""
APART = 0.05
"""Places closer than this share of the photograph are one."""
ALIGN_PX = 120.0
"""Samples along the longer side in the first alignment."""
FINEST_PX_PER_MM = 2.5
ALIKE, TOLD_APART = 0.9, 0.4
"""Places whose scores are as near as this are compared where the film says something else at one than at the other:
there the right one is liker by so much at least."""


@dataclass(frozen=True, slots=True)
class Search:
    """How finely and how far a print is searched."""

    side_px: int = SIDE_PX
    sizes: int = SIZES
    """Sizes tried, each SIZE_STEP of the one before: SIZES go down to half of what fills the frame."""


PRINT = Search()


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """A place of the print in a photograph."""

    homography: F64
    score: float
    """Correlation of locally normalised colour, 1 at best."""
    runner_up: float = 0.0
    """The same of the best place that is another one; 0 without one, or where what differs told it apart."""


def find(subject: Subject, photo: Photo, *, top: Side | None = None, search: Search = PRINT) -> Place | None:
    """Return where the print lies, or None where nothing in the photograph can be aligned with it.

    ``top`` says which side of the photograph the print's top is at (a key of TOPS), for art that looks the same turned.
    """
    coarse = ALIGN_PX / max(subject.width_mm, subject.height_mm)
    near = 0.03 * max(photo.size)
    first = [
        aligned(subject, photo, start, coarse, rounds=8, free=6, blur=1.5)
        for start in _candidates(subject, photo, top, search)
    ]
    tried = [
        aligned(subject, photo, found.homography, coarse, rounds=6, blur=1.2)
        for found in _others(subject, first, near)[:FOLLOWED]
    ]
    fine = [
        aligned(subject, photo, found.homography, coarse * 2, rounds=6)
        for found in _others(subject, tried, near)[:3]
        if found.score > max(one.score for one in tried) - 0.2
    ]
    if not fine:
        return None
    fine.sort(key=lambda place: -place.score)
    finest = min(FINEST_PX_PER_MM, coarse * 4)
    best = aligned(subject, photo, fine[0].homography, finest, rounds=4)
    others = _others(subject, fine, near)[1:]
    if not others:
        return Place(best.homography, fine[0].score)
    second = others[0]
    if second.score < ALIKE * fine[0].score:
        return Place(best.homography, fine[0].score, second.score)
    other = aligned(subject, photo, second.homography, finest, rounds=4)
    likeness = told_apart(subject, photo, best.homography, other.homography, finest)
    if likeness is None or abs(likeness[0] - likeness[1]) < TOLD_APART:
        return Place(best.homography, fine[0].score, second.score)
    right = best if likeness[0] > likeness[1] else other
    return Place(right.homography, fine[0].score)


def _others(subject: Subject, places: Sequence[Aligned], near_px: float) -> list[Aligned]:
    """Return places, the best first, without those that are one with a better one."""
    kept: list[Aligned] = []
    for one in sorted(places, key=lambda place: -place.score):
        corners = applied(one.homography, subject.corners)
        if all(np.abs(applied(k.homography, subject.corners) - corners).mean() > near_px for k in kept):
            kept.append(one)
    return kept


def _told(subject: Subject, px_per_mm: float) -> F32:
    """Return 1 where the photograph shows what the films say, 0 in and beside places that hold anything."""
    from scipy.ndimage import maximum_filter

    open_ = subject.anything(subject.whole(px_per_mm))
    return np.where(maximum_filter(open_, 5), np.float32(0), np.float32(1))


def _edges(linear: F32, sigma: float) -> F32:
    from scipy.ndimage import gaussian_filter, gaussian_gradient_magnitude

    seen = np.sqrt(np.clip(np.nan_to_num(linear), 0, 1))
    square = sum(gaussian_gradient_magnitude(seen[..., c], sigma * 0.6) ** 2 for c in range(3))
    edge = np.sqrt(square)
    edge = np.minimum(edge, np.quantile(edge, 0.97) + 1e-6)
    return np.asarray(gaussian_filter(edge, sigma * 0.6), np.float32)


def _candidates(subject: Subject, photo: Photo, top: Side | None, search: Search) -> list[F64]:
    """Return homographies of the places that look most like the print, each turned, scaled and moved only."""
    from scipy import fft
    from scipy.ndimage import affine_transform, gaussian_filter

    by = max([k for k in STEPS if k <= max(photo.size) / search.side_px + 0.35])
    small = photo.shrunk(by) if by > 1 else photo.shrunk(2)
    by = max(by, 2)
    seen = _edges(small, 1.5)
    n = fft.next_fast_len(int(1.6 * max(seen.shape)))
    area = np.zeros((3, n, n), np.float32)
    area[0, : seen.shape[0], : seen.shape[1]] = seen - seen.mean()
    area[1] = area[0] ** 2
    area[2, : seen.shape[0], : seen.shape[1]] = 1
    spectra = fft.rfft2(area)
    r = TEMPLATE_PX_PER_MM
    template = _edges(mixed(subject.coarse(r), subject.colours), 1.2 * r)
    told = _told(subject, r)
    sides = sorted((subject.width_mm + 2 * subject.margin_mm, subject.height_mm + 2 * subject.margin_mm))
    frame = sorted(photo.size)
    fills = min(frame[1] / sides[1], frame[0] / sides[0]) / by
    fills = max(fills, min(frame) / sides[1] / by)
    found: list[tuple[float, float, float, float, float]] = []
    for size in fills * LARGEST * SIZE_STEP ** np.arange(search.sizes):
        side = max(8, int(max(template.shape) / r * size * 1.45))
        if side > n:
            continue
        soft = gaussian_filter(template, max(0.0, (r / size - 1.2 * r) * 0.5))
        for turn in _turns(top):
            c, s = np.cos(turn), np.sin(turn)
            matrix = np.array([[c, -s], [s, c]]) * (r / size)  # rows and columns of the canvas to the template's
            offset = np.array(template.shape) / 2 - 0.5 - matrix @ (np.full(2, side) / 2 - 0.5)
            turned = affine_transform(soft, matrix, offset, (side, side), order=1)
            mask = affine_transform(told, matrix, offset, (side, side), order=0)
            score = _correlation(spectra, turned, mask, n)
            at = np.unravel_index(np.argmax(score), score.shape)
            y, x = ((v if v < n / 2 else v - n) + side / 2 - 0.5 for v in (int(at[0]), int(at[1])))
            found.append((float(score[at]), turn, size, x, y))
    found.sort(reverse=True)
    kept: list[F64] = []
    for _, turn, size, x, y in found:
        place = _similarity(subject, turn, size * by, (x + 0.5) * by - 0.5, (y + 0.5) * by - 0.5)
        corners = applied(place, subject.corners)
        if all(np.abs(applied(k, subject.corners) - corners).mean() > APART * max(photo.size) for k in kept):
            kept.append(place)
        if len(kept) == KEPT:
            break
    return kept


def _turns(top: Side | None) -> F64:
    """Return the turns to try, radians clockwise."""
    turns = np.arange(TURNS) * 2 * np.pi / TURNS
    if top is None:
        return turns
    return np.asarray(turns[np.cos(turns - np.radians(TOPS[top])) > 0.5])


def _correlation(spectra: F64, turned: F32, mask: F32, n: int) -> F32:
    """Return the masked normalised correlation of a turned template at every place (Padfield's equation 4).

    Both pictures' means and spreads are those of where they overlap, so that bare corners do not look like anything.
    """
    from scipy.fft import irfft2, rfft2

    count = float(mask.sum())
    turned = (turned - (turned * mask).sum() / count) * mask
    three = np.zeros((3, n, n), np.float32)
    for plane, picture in zip(three, (turned, turned * turned, mask), strict=True):
        plane[: picture.shape[0], : picture.shape[1]] = picture
    template, square, window = np.conj(rfft2(three))
    products = (
        spectra[0] * template,
        spectra[0] * window,
        spectra[1] * window,
        spectra[2] * window,
        spectra[2] * template,
        spectra[2] * square,
    )
    over, first, second, inside, mean, own = irfft2(np.stack(products), (n, n))
    inside = np.maximum(inside, 1)
    least = LEAST_SPREAD * float(second.max())
    seen = np.maximum(second - first * first / inside, least)
    film = np.maximum(own - mean * mean / inside, LEAST_SPREAD * float(own.max()))
    good = inside > 0.75 * count
    return np.where(good, (over - first * mean / inside) / np.sqrt(seen * film + 1e-12), -1).astype(np.float32)


def _similarity(subject: Subject, turn: float, size: float, x: float, y: float) -> F64:
    """Return the homography that puts the art's middle at (x, y)."""
    c, s = size * np.cos(turn), size * np.sin(turn)
    mx, my = subject.middle
    return np.array([[c, -s, x - c * mx + s * my], [s, c, y - s * mx - c * my], [0, 0, 1.0]])
