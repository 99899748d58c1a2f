"""What films make together: the linear light of every stack of a set of screens, for many sets at once.

In: films (ink, coats) in print order, the cloth's reflectance (31,). Out: (2^n, 3) linear sRGB, not clipped, screen k
being bit k: Neugebauer's primaries (1937) by layer optics, overprints included. ``mean_light`` averages them with the
shares of Demichel (1924). Yule and Nielsen's exponent (1951) is left at 1: what light does between dots is part of
the gain that a calibration print tells, and films are made against it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_linear
from sepkit.inks.layers import Layer, covered_share, film, film_in_air, over

if TYPE_CHECKING:
    from sepkit.model import F64, Ink

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """One screen's ink as it goes on."""

    ink: Ink
    coats: int = 1


def stack_light(films: Sequence[Film], cloth: F64) -> F64:
    """Return the linear sRGB (2^n, 3) of every stack of ``films`` on a cloth of reflectance (31,)."""
    return reflectance_to_linear(stack_reflectance(films, cloth))


def stack_reflectance(films: Sequence[Film], cloth: F64) -> F64:
    """Return the reflectance in air (2^n, 31) of every stack, as ``inks.layers.printed_reflectance`` has one."""
    stack, coats = _stacked(tuple((one.ink, one.coats) for one in films), len(cloth))
    share = np.where(coats > 0, covered_share(np.maximum(coats, 1)), 0.0)[:, None]
    return np.asarray(share * film_in_air(stack, cloth) + (1 - share) * cloth)


def _stacked(films: tuple[tuple[Ink, int], ...], bands: int) -> tuple[Layer, F64]:
    """Return the layers of every stack of films, (2^n, bands), and how many coats each has, (2^n,)."""
    if not films:
        nothing = np.zeros((1, bands))
        return Layer(nothing, nothing, np.ones_like(nothing)), np.zeros(1)
    stack, coats = _begun(films[:-1], bands)
    ink, own = films[-1]
    added = over(_layer(ink, own), stack)
    both = Layer(
        np.concatenate([stack.top, added.top]),
        np.concatenate([stack.bottom, added.bottom]),
        np.concatenate([stack.through, added.through]),
    )
    return both, np.concatenate([coats, coats + own])


@lru_cache(maxsize=256)
def _begun(films: tuple[tuple[Ink, int], ...], bands: int) -> tuple[Layer, F64]:
    """Return ``_stacked``, for films that many sets begin with."""
    return _stacked(films, bands)


@lru_cache(maxsize=256)
def _layer(ink: Ink, coats: int) -> Layer:
    return film(ink.absorption * coats, ink.scattering * coats)


def weights_without(dots: Array, screen: int) -> Array:
    """Return the shares (..., 2^(n-1)) of the stacks of all screens but one, for dots (..., n) in 0..1."""
    weights = np.ones((1, *dots.shape[:-1]))  # stacks first: NumPy works along long rows
    for k in range(dots.shape[-1]):
        if k != screen:
            dot = np.ascontiguousarray(dots[..., k])
            both = np.empty((2, *weights.shape))
            np.multiply(weights, 1 - dot, out=both[0])
            np.multiply(weights, dot, out=both[1])
            weights = both.reshape(-1, *dots.shape[:-1])
    return np.ascontiguousarray(np.moveaxis(weights, 0, -1))


def steps_of(stacks: Array) -> list[Array]:
    """Return, for each screen, what it adds to each stack of the others, (..., 2^(n-1), 3)."""
    count = stacks.shape[-2].bit_length() - 1
    bits = np.arange(1 << count)
    return [stacks[..., bits >> k & 1 == 1, :] - stacks[..., bits >> k & 1 == 0, :] for k in range(count)]


def mean_light(dots: Array, stacks: Array) -> Array:
    """Return the mean light (..., m, 3) of dots (..., m, n) over stacks (..., 2^n, 3)."""
    return np.asarray(weights_without(dots, -1) @ stacks)
