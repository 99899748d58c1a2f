"""Lines so thin that no pixel is solid in them: told by pixels that agree along the line.

In: badly explained pixels, what each costs now, and what it would cost with some of each member in it. Out: the members
whose lines run through each pixel. One pixel that a faint share of a far ink explains proves little: a buried
fill or a bad antialiaser gives such pixels too. Many that hang together prove a line, so what makes a hairline rare is
paid once per line here, not once per pixel.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sepkit.coverage.hanging_together import groups
from sepkit.separation import tuned_mixing as tuned

Array = np.ndarray[Any, np.dtype[Any]]


def lines_through(at: Array, key: Array, cost: Array, fits: Array, around: Array, *, width: int) -> Array:
    """Return (n,) uint32: bit k where a line of member k runs through the pixel.

    at: (n,) flat indices of pixels in rising order of a picture ``width`` wide; key: (n,) row of each in ``cost``
    (u,), ``fits`` (u, m, see :func:`~sepkit.separation.unmix.thin_fits`) and ``around`` (u,) uint32.
    """
    odds, least_gain = tuned.ODDS, tuned.LINES.gain
    well = odds.good + odds.triple
    order = np.argsort(at, kind="stable")
    at, key = at[order], key[order]
    first, second = _adjacent(at, width)
    found: list[tuple[float, int, float, Array, Array]] = []
    for k in range(fits.shape[1]):
        gain = cost - fits[:, k]
        speaks = ((fits[:, k] < well) & (gain >= least_gain))[key]
        if speaks.any():
            stranger = np.where(around >> np.uint32(k) & 1, 0, odds.stranger)[key]
            found += [
                (-g.sum(), k, price, here, g) for price, here, g in _parts(speaks, gain[key], stranger, first, second)
            ]
    out = np.zeros(len(at), np.uint32)
    for _, k, price, here, gain in sorted(found, key=lambda part: part[:3]):
        free = out[here] == 0  # what a stronger line explains does not speak for a weaker one
        if gain[free].sum() > price:
            out[here] |= np.uint32(1 << k)
    back = np.empty_like(out)
    back[order] = out
    return back


def _adjacent(at: Array, width: int) -> tuple[Array, Array]:
    """Return the places of all pairs of 8-connected pixels in sorted flat indices ``at``."""
    one: list[Array] = []
    other: list[Array] = []
    column = at % width
    for step, ends in ((1, width - 1), (width - 1, 0), (width, -1), (width + 1, width - 1)):
        place = np.minimum(np.searchsorted(at, at + step), len(at) - 1)
        found = np.flatnonzero((at[place] == at + step) & (column != ends))
        one.append(found)
        other.append(place[found])
    return np.concatenate(one), np.concatenate(other)


def _parts(
    speaks: Array, gain: Array, stranger: Array, first: Array, second: Array
) -> list[tuple[float, Array, Array]]:
    """Return (price, places, gains) of all sets of pixels that speak for a line, hang together and earn its price."""
    least_gain = tuned.LINES.gain
    here = np.flatnonzero(speaks)
    number = np.full(len(speaks), -1)
    number[here] = np.arange(len(here))
    both = speaks[first] & speaks[second]
    part, count = groups(number[first[both]], number[second[both]], len(here))
    total = np.bincount(part, gain[here] - least_gain, count)
    price = tuned.ODDS.hairline + np.bincount(part, stranger[here], count) / np.bincount(part, minlength=count)
    order = np.argsort(part, kind="stable")
    ends = np.searchsorted(part[order], np.arange(count + 1))
    out = []
    for n in np.flatnonzero(total > price):
        places = here[order[ends[n] : ends[n + 1]]]
        out.append((float(price[n]), places, gain[places] - least_gain))
    return out
