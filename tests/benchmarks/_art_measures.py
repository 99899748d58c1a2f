"""Plates against what was drawn: inks, fringe, specks, lost parts, coverage on edges, and how far outlines moved.

Definitions are those of the separation benchmark, with the print's own resolution, and windows as wide as a source
pixel. Outlines are compared as curves, both ways: 0.3 source pixels is a third of what the artist's file could tell.
"""

from __future__ import annotations

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.model import InkRequest

OUTLINE_PX = 0.3
MOST_POINTS = 30_000


def separated(art, truth):
    """Return (art, separation) as a print is separated, its outlines drawn again where a print's are."""
    from sepkit.separation.redrawn import redrawn
    from sepkit.separation.separate import separate

    return art, redrawn(art, separate(art, truth.ground, InkRequest()), "smooth")


def score(art, truth):
    """Return the figures of flat art."""
    art, found = separated(art, truth)
    areas = [a for a in found.areas if a.coverage.any()]
    flat = [a for a in areas if not _is_tone(a, truth)]
    planes = [(a.srgb, fitted(a.coverage, art_shape(truth))) for a in flat]
    pairs = matched(planes, truth)
    wanted = len(truth.colours) + truth.tone_inks
    return {
        "count ok": 100.0 * (len(truth.colours) <= len(areas) <= wanted),
        **covered(planes, pairs, truth),
        "edge ok": outlines([(a.srgb, a.coverage) for a in flat], pairs, truth),
        "ringing": float(max(0, len(areas) - wanted)),
        "toned": toned(areas, truth),
    }


def art_shape(truth):
    return truth.label.shape[0] // truth.scale, truth.label.shape[1] // truth.scale


def _is_tone(area, truth):
    """An ink of nothing but drawn tones is no part of the flat truth."""
    if truth.tone is None or area.tone is None:
        return False
    return bool(fitted(area.coverage, art_shape(truth))[~truth.tone].sum() < 60)


def fitted(plane, shape):
    """Return a uint8 plane as 0 to 1 on the picture's grid: one that is finer is averaged down."""
    from PIL import Image

    if plane.shape != shape:
        plane = np.asarray(Image.fromarray(plane).resize(shape[::-1], Image.Resampling.BOX))
    return plane.astype(np.float32) / 255


def matched(planes, truth):
    """Return the found plane of each true ink, by overlap and colour (see the separation benchmark)."""
    from scipy.optimize import linear_sum_assignment

    if not planes:
        return {}
    cost = np.zeros((len(planes), len(truth.colours)))
    for t, colour in enumerate(truth.colours):
        cover = truth.cover(t)
        off = delta_e_2000(srgb8_to_lab(np.array([c for c, _ in planes])), srgb8_to_lab(colour))
        for p, (_, plane) in enumerate(planes):
            cost[p, t] = 1 - np.minimum(plane, cover).sum() / max(np.maximum(plane, cover).sum(), 1) + off[p] / 100
    rows, cols = linear_sum_assignment(cost)
    return {int(t): int(p) for p, t in zip(rows, cols, strict=True)}


def covered(planes, pairs, truth):
    """Return fringe, specks, lost parts and the error of coverage on edges."""
    from scipy import ndimage

    reach = max(1, round(truth.source_px))
    wide, square = np.ones((2 * reach + 1,) * 2, bool), np.ones((3, 3), bool)
    shape = art_shape(truth)
    none = np.zeros(shape, np.float32)
    fringe, wrong, most = np.zeros(shape, bool), none.copy(), none.copy()
    bare, bare_true = 1 - sum((p for _, p in planes), none), 1 - none
    least = max(1.0, np.pi * (0.15 * truth.dpi / 25.4) ** 2)
    flat = np.ones(shape, bool) if truth.tone is None else ~truth.tone  # dots of drawn tones are no specks
    specks = lost = 0
    for t in range(len(truth.colours)):
        true = truth.cover(t)
        got = planes[pairs[t]][1] if t in pairs else none
        bare_true = bare_true - true
        most = np.maximum(most, true)
        wrong += np.abs(got - true)
        fringe |= (got >= 0.15) & ~ndimage.binary_dilation(true > 0.01, wide)
        specks += _unlike((got >= 0.5) & flat, ndimage.binary_dilation(true >= 0.25, square), 0, least, 0)
        lost += _unlike(true >= 0.5, got >= 0.5, least, np.inf, 0.2)
    for p in set(range(len(planes))) - set(pairs.values()):
        wrong += planes[p][1]
        fringe |= planes[p][1] >= 0.15
        specks += _unlike((planes[p][1] >= 0.5) & flat, np.zeros(shape, bool), 0, least, 0)
    edge = np.maximum(most, bare_true) < 0.985
    if truth.tone is not None:
        edge &= ~truth.tone
    edged = edge if edge.any() else np.ones(shape, bool)
    wrong = 0.5 * (wrong + np.abs(np.clip(bare, 0, 1) - bare_true))
    return {
        "fringe": float(fringe[edged].mean() * 100),
        "specks": float(specks),
        "lost": float(lost),
        "edge pp": float(wrong[edged].mean() * 100),
    }


def _unlike(mask, other, least, below, share):
    """Return how many 8-connected parts of a mask, of so many pixels, share no more than ``share`` with another."""
    from scipy import ndimage

    number, n = ndimage.label(mask, np.ones((3, 3), bool))
    size = np.bincount(number.ravel(), minlength=n + 1)
    hit = np.bincount(number.ravel(), other.ravel(), n + 1)
    part = (size >= least) & (size < below) & (hit <= share * size) & (np.arange(n + 1) > 0)
    return int(part.sum())


def outlines(planes, pairs, truth):
    """Return the % of outlines, true and found, that lie within OUTLINE_PX source pixels of one another."""
    from scipy.spatial import cKDTree

    near = total = 0
    for t in range(len(truth.colours)):
        true = true_outline(truth.label == t + 1, truth.scale)
        found = found_outline(planes[pairs[t]][1], art_shape(truth)) if t in pairs else np.zeros((0, 2))
        for one, other in ((true, found), (found, true)):
            one = one[:: max(1, len(one) // MOST_POINTS)]
            weight = len(true) / max(len(one), 1)  # as long as the true outline, whichever way it is walked
            total += weight * len(one)
            if len(one) and len(other):
                near += weight * int((cKDTree(other).query(one)[0] <= OUTLINE_PX * truth.source_px).sum())
    return 100.0 * near / max(total, 1)


def true_outline(mask, scale):
    """Return (n, 2) points (y, x) in picture pixels between unlike neighbours of a fine mask."""
    y, x = np.nonzero(mask[1:] != mask[:-1])
    v, u = np.nonzero(mask[:, 1:] != mask[:, :-1])
    return np.concatenate([np.stack([y + 1, x + 0.5], 1), np.stack([v + 0.5, u + 1], 1)]) / scale


def found_outline(plane, shape):
    """Return (n, 2) points along the outlines that a film draws of a plane (bicubic), in picture pixels."""
    from PIL import Image
    from skimage.measure import find_contours

    finer = (plane.shape[1] * 3, plane.shape[0] * 3)
    plane = np.asarray(Image.fromarray(plane).resize(finer, Image.Resampling.BICUBIC))
    lines = find_contours(plane.astype(np.float32), 127.5)
    step = np.linspace(0, 1, 8, endpoint=False)[:, None, None]
    parts = [(line[None, :-1] + step * np.diff(line, axis=0)[None]).reshape(-1, 2) for line in lines]
    return (np.concatenate([np.zeros((0, 2)), *parts]) + 0.5) * shape[0] / plane.shape[0]


def toned(areas, truth):
    """Return the % of inked pixels outside drawn tones that became halftone."""
    inked = tone = 0
    for area in areas:
        here = area.coverage > 0
        if truth.tone is not None:
            here &= ~grown(truth.tone, area.coverage.shape)
        inked += int(here.sum())
        tone += 0 if area.tone is None else int((area.tone & here).sum())
    return 100.0 * tone / max(inked, 1)


def grown(mask, shape):
    """Return a mask of the picture on a plane's grid."""
    return np.kron(mask, np.ones((shape[0] // mask.shape[0],) * 2, bool)) if mask.shape != shape else mask


def pictured(art, truth):
    """Return the picture and its plates beside one another, for eyes."""
    from PIL import Image

    from sepkit.model import Artwork
    from tests.benchmarks._art_drawing import over

    if not isinstance(art, Artwork):
        return None
    art, found = separated(art, truth)
    seen = over(np.dstack([art.rgb, art.alpha]), truth.ground)
    planes = [np.where(a.coverage[..., None] > 0, 255 - a.coverage[..., None], 255) for a in found.areas]
    tiles = [seen, *(np.broadcast_to(p, (*p.shape[:2], 3)) for p in planes)]
    size = max(t.shape[0] for t in tiles)
    whole = [np.asarray(Image.fromarray(np.ascontiguousarray(t, np.uint8)).resize((size, size), 0)) for t in tiles]
    return Image.fromarray(np.concatenate(whole, axis=1))
