"""Mixed pixels of a labelled picture: each unlike (colour, alpha, neighbours) is solved once, then spread back.

In: picture, labels, member colours. Out: :class:`Shares`: for each pixel that is no core, up to three members and
how much of the pixel each covers, with the cost of that explanation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation.cores import cores, neighbours
from sepkit.separation.palette import pack, unpack
from sepkit.separation.unmix import Metric, Mixture, Space, solve

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

CLEAN_NOISE = 1.5  # 8-bit levels: rounding of colour, alpha and premultiplication
JPEG_NOISE = 6.0
JPEG_CHROMA = 0.4  # weight of chroma against luma: 4:2:0 carries a quarter of it
FAR_RADIUS = 4  # px: how far a pixel with no core near it looks for members


@dataclass(frozen=True, slots=True, eq=False)
class Members:
    """Colours that pixels are made of: (m, 3) uint8 sRGB and (m,) uint8 alpha, transparent last where there is one."""

    rgb: U8
    alpha: U8

    def __len__(self) -> int:
        return len(self.alpha)


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Solved pixels: flat indices ``at`` (n,), the key of each (n,), and a mixture per key."""

    at: Array
    key: Array
    mixture: Mixture
    space: Space
    core: Array
    """(h, w) bool: pixels that need no solving, their label stands."""

    def cost(self) -> Array:
        """(n,) cost of each solved pixel's explanation."""
        return np.asarray(self.mixture.cost[self.key])


@dataclass(slots=True)
class _Keys:
    rgb: U8
    alpha: U8
    near: Array
    reach: Array
    of_pixel: Array
    pixels: Array


def solve_edges(
    rgb: U8, alpha: U8, label: Array, members: Members, *, noisy: bool, skip: Array | None = None
) -> Shares:
    """Solve every pixel that is no core of a member (and not in ``skip``)."""
    core = cores(label)
    todo = ~core if skip is None else ~(core | skip)
    at = np.flatnonzero(todo)
    keys = _keys(rgb, alpha, label, core, at)
    if noisy:
        metric = Metric("encoded", JPEG_NOISE, JPEG_CHROMA)
        mixture = _solve(keys, members, metric)
        return Shares(at, keys.of_pixel, mixture, "encoded", core)
    tried = [_solve(keys, members, Metric(space, CLEAN_NOISE)) for space in ("encoded", "linear")]
    score = [float((np.minimum(m.cost, 25) * keys.pixels).sum()) for m in tried]
    pick = int(score[1] < score[0])
    space: Space = "linear" if pick else "encoded"
    return Shares(at, keys.of_pixel, tried[pick], space, core)


def _solve(keys: _Keys, members: Members, metric: Metric) -> Mixture:
    return solve((keys.rgb, keys.alpha), (members.rgb, members.alpha), keys.near, keys.reach, metric=metric)


def _keys(rgb: U8, alpha: U8, label: Array, core: Array, at: Array) -> _Keys:
    near = neighbours(label, core, at, radius=1)
    reach = neighbours(label, core, at, radius=2)
    lonely = np.flatnonzero(reach == 0)
    if lonely.size:
        reach[lonely] = neighbours(label, core, at[lonely], radius=FAR_RADIUS)
    colour = pack(rgb.reshape(-1, 3)[at]).astype(np.uint64) | alpha.ravel()[at].astype(np.uint64) << np.uint64(24)
    masks, mask_of = np.unique(near.astype(np.uint64) << np.uint64(32) | reach, return_inverse=True)
    full, of_pixel, pixels = np.unique(
        colour | mask_of.astype(np.uint64) << np.uint64(32), return_inverse=True, return_counts=True
    )
    mask = masks[(full >> np.uint64(32)).astype(np.int64)]
    return _Keys(
        unpack(full & np.uint64(0xFFFFFF)),
        (full >> np.uint64(24) & np.uint64(255)).astype(np.uint8),
        (mask >> np.uint64(32)).astype(np.uint32),
        (mask & np.uint64(0xFFFFFFFF)).astype(np.uint32),
        of_pixel,
        pixels,
    )
