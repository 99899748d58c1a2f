"""Ink areas as the eye sees them from across a table: what every choice of inks is weighed with.

In: ink areas averaged down, what each prints as, and the cloth. Out: a KneeView. Each area is blurred by itself in
S-CIELAB's channels, so that any colours of them are mixed at once; what looks the same is looked at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spatial import blurred, lab_of_opponent, opponent_of_linear
from sepkit.colorimetry.srgb import linear_to_lab

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

SIZE_POWER = 0.4
"""An area counts by this power of its share: a detail of 1 % counts a sixth of the whole, not a hundredth."""
STANDS_OUT_DE00 = 30.0
"""An area this far from its surroundings counts in full; one of their colour hardly."""
LEAST_STANDING, MOST_STANDING = 0.4, 1.5
ALONE_CHROMA = 45.0
"""A hue this far in a*, b* from every other of the art is alone: the one red of a crest, an eye's yellow."""
ACCENT_SHARE = 0.06
"""A hue that is alone, stands out and covers less than this share is an accent."""


@dataclass(frozen=True, slots=True, eq=False)
class KneeView:
    """Areas as the eye sees them: everything that a choice is weighed with."""

    soft: Array
    """(3, n, u) coverage 0..1, blurred in each opponent channel: what differs of it where anything prints."""
    parts: F64
    """(n, u) how much of each area looks so: the sum over u is the sum of its plane."""
    wish: Array
    """(u, 3) Lab of the art as seen."""
    usual: Array
    """(u, 3) Lab of the print with all inks as seen."""
    art: F64
    """(n, 3) linear sRGB that the art has for each area."""
    printed: F64
    """(n, 3) linear sRGB that its ink has on this cloth."""
    cloth: F64
    """(3,) linear sRGB."""
    weight: F64
    """(n,) how much an area counts, their sum 1."""
    reach: F64
    """(n,) how much of itself an area keeps in the blur, 0..1."""
    flat: Array
    """(n,) True for areas that dots may stand for: no tones, and broad enough to hold dots."""
    accent: F64
    """(n,) how much of an accent each area is, 0..1."""
    dotted: Array
    """(n,) True for inks whose dots may stand for a flat colour: those that need no base under them."""

    @staticmethod
    def of(
        planes: Array, art: F64, printed: F64, cloth: F64, *, flat: Array, dotted: Array, per_degree: float
    ) -> KneeView:
        """Return the view of areas (n, h, w) uint8 at so many pixels to a degree."""
        given = np.asarray(planes, np.float32) / 255
        soft = np.stack([blurred(given, k, per_degree) for k in range(3)])
        total = np.maximum(given.sum(axis=(1, 2)), 1e-6)
        reach = np.clip((soft[0] * given).sum(axis=(1, 2)) / np.maximum((given * given).sum(axis=(1, 2)), 1e-6), 0, 1)
        around = np.array([_around(given, soft[2, k], k, art, cloth) for k in range(len(given))])
        standing = delta_e_2000(linear_to_lab(art), linear_to_lab(around))
        standing = np.clip(standing / STANDS_OUT_DE00, LEAST_STANDING, MOST_STANDING)
        weight = (total / total.sum()) ** SIZE_POWER * standing
        small = np.clip(1 - total / total.sum() / ACCENT_SHARE, 0, 1)
        accent = small * alone(art) * np.minimum(standing, 1.0)
        seen, parts = _different(given, soft)
        wish, usual = _seen(seen, cloth, art), _seen(seen, cloth, printed)
        weight = weight / weight.sum()
        return KneeView(seen, parts, wish, usual, art, printed, cloth, weight, reach, flat, accent, dotted)

    def lab(self, colours: F64) -> Array:
        """Return Lab (u, 3) as seen, with ``colours`` (n, 3) linear in the areas."""
        return _seen(self.soft, self.cloth, colours)


def _seen(soft: Array, cloth: F64, colours: F64) -> Array:
    ground = opponent_of_linear(cloth)
    away = opponent_of_linear(colours) - ground
    channels = [np.tensordot(away[:, k].astype(np.float32), soft[k], 1) + ground[k] for k in range(3)]
    return lab_of_opponent(np.stack(channels, axis=-1))


def _around(planes: Array, soft: Array, index: int, art: F64, cloth: F64) -> F64:
    """Return the mean colour of what lies around an area, blurred as (h, w) ``soft``."""
    ring = np.clip(soft, 0, 1) * (1 - planes[index])
    others = planes * ring
    others[index] = 0
    parts = others.sum(axis=(1, 2))
    bare = max(float(ring.sum() - parts.sum()), 0.0)
    mean: F64 = (parts @ art + bare * cloth) / max(float(parts.sum()) + bare, 1e-9)
    return mean


def _different(planes: Array, soft: Array) -> tuple[Array, F64]:
    """Return what differs of (3, n, h, w) blurred planes where anything prints, and how much of each area is so.

    Most of flat art looks like its surroundings, and is then looked at once.
    """
    where = planes.any(axis=0)
    own, seen = planes[:, where], soft[:, :, where]
    flat = seen.reshape(-1, seen.shape[-1])
    key = np.random.default_rng(0).random(len(flat)) @ flat
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    if not np.array_equal(flat[:, first][:, group], flat):
        return seen, own.astype(np.float64)
    return seen[:, :, first], np.stack([np.bincount(group, plane, len(first)) for plane in own])


def alone(art: F64) -> F64:
    """Return (n,) 0..1: how far each colour's hue is from all others."""
    ab = np.asarray(linear_to_lab(art))[:, 1:]
    apart = np.hypot(*np.moveaxis(ab[:, None] - ab[None], -1, 0))
    np.fill_diagonal(apart, np.inf)
    far: F64 = np.minimum(apart.min(axis=1) / ALONE_CHROMA, 1.0)
    return far
