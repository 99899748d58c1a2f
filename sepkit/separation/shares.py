"""What flows through the separation of flat colours: pixels, the colours they are made of, and their shares.

A pixel that is no core is explained once per unlike key: its colour, alpha, and the members that may share it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.channels import pack, pixels_at
from sepkit.separation.palette import unpack
from sepkit.separation.unmix import Masks, Mixture, solve

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.separation.unmix import Metric, Rare, Space

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Pixels:
    """A picture: (h, w, 3) uint8 sRGB and (h, w) uint8 alpha."""

    rgb: U8
    alpha: U8

    def keys_at(self, at: Array, masks: Masks) -> Keys:
        """Return the unlike keys of the pixels at (n,) flat indices, which members in ``masks`` may share."""
        return grouped(pixels_at(self.rgb, at), self.alpha.ravel()[at], masks)


@dataclass(frozen=True, slots=True, eq=False)
class Members:
    """Colours that pixels are made of: (m, 3) uint8 sRGB and (m,) uint8 alpha, transparent last where there is one."""

    rgb: U8
    alpha: U8

    def __len__(self) -> int:
        return len(self.alpha)

    @property
    def opaque(self) -> U8:
        """(k, 3) uint8 sRGB of those that are no transparency."""
        return np.asarray(self.rgb[self.alpha == 255])

    def without(self, number: int) -> Members:
        """Return all but one."""
        return Members(np.delete(self.rgb, number, axis=0), np.delete(self.alpha, number))


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

    def of(self, number: int) -> Array:
        """(n,) share of one member in each solved pixel."""
        own = np.where(self.mixture.member == number, self.mixture.share, 0).sum(axis=1)
        return np.asarray(own[self.key])

    def renumbered(self, numbers: Array) -> Shares:
        """Return the same with member n called ``numbers[n]``."""
        mixture = self.mixture
        member = np.where(mixture.member >= 0, numbers[mixture.member], -1).astype(np.int16)
        return replace(self, mixture=Mixture(member, mixture.share, mixture.cost))


def joined(parts: list[Shares], space: Space, core: Array) -> Shares:
    """Return the pixels of all parts, which share none, in rising order; there is one part at least."""
    mixture, keys = parts[0].mixture, [parts[0].key]
    for part in parts[1:]:
        keys.append(part.key + len(mixture.cost))
        mixture = mixture.joined(part.mixture)
    at = np.concatenate([part.at for part in parts])
    order = np.argsort(at, kind="stable")
    return Shares(at[order], np.concatenate(keys)[order], mixture, space, core)


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Flat colours and what they explain: (h, w) uint8 labels of solid areas, shares elsewhere, and the colours."""

    label: U8
    shares: Shares
    members: Members


@dataclass(slots=True)
class Keys:
    """Unlike (colour, alpha, neighbours) and, per pixel, which of them it is."""

    rgb: U8
    alpha: U8
    masks: Masks
    of_pixel: Array

    def joined(self, more: Keys) -> Keys:
        """Return both, those of ``more`` after these; ``of_pixel`` stays as it was."""
        return Keys(
            np.concatenate([self.rgb, more.rgb]),
            np.concatenate([self.alpha, more.alpha]),
            self.masks.joined(more.masks),
            self.of_pixel,
        )


def grouped(rgb: U8, alpha: U8, masks: Masks) -> Keys:
    """Return the unlike keys of n pixels."""
    colour = pack(rgb).astype(np.uint64) | alpha.astype(np.uint64) << np.uint64(24)
    wide = np.uint64(32)
    pairs, pair_of = np.unique(masks.near.astype(np.uint64) << wide | masks.reach, return_inverse=True)
    sets, set_of = np.unique(pair_of.astype(np.uint64) << wide | masks.around, return_inverse=True)
    full, of_pixel = np.unique(colour | set_of.astype(np.uint64) << wide, return_inverse=True)
    chosen = sets[(full >> wide).astype(np.int64)]
    pair = pairs[(chosen >> wide).astype(np.int64)]
    low = np.uint64(0xFFFFFFFF)
    return Keys(
        unpack(full & np.uint64(0xFFFFFF)),
        (full >> np.uint64(24) & np.uint64(255)).astype(np.uint8),
        Masks((pair >> wide).astype(np.uint32), (pair & low).astype(np.uint32), (chosen & low).astype(np.uint32)),
        of_pixel,
    )


def solve_keys(keys: Keys, members: Members, metric: Metric, *, rare: Rare = "all") -> Mixture:
    """Return a mixture per key."""
    pixels, colours = (keys.rgb, keys.alpha), (members.rgb, members.alpha)
    return solve(pixels, colours, keys.masks, metric=metric, rare=rare)


def drawn(solved: Solved, over: U8) -> U8:
    """Return the (h, w, 3) uint8 picture that labels and shares make, laid over ``over`` where nothing was solved."""
    colours = np.vstack([solved.members.rgb, np.zeros((256 - len(solved.members), 3), np.uint8)])
    out = np.where(solved.shares.core[..., None], colours[solved.label], over)
    mixture = solved.shares.mixture
    mixed = np.einsum("ns,nsc->nc", mixture.share, colours[np.maximum(mixture.member, 0)].astype(np.float32))
    out.reshape(-1, 3)[solved.shares.at] = np.rint(mixed).astype(np.uint8)[solved.shares.key]
    return np.asarray(out, np.uint8)
