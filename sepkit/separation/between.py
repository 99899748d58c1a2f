"""Inks on the mixing line of two others, told apart by what lies along and on both sides of an edge.

In: clean art with its solid areas known. Out: which members each mixed pixel cannot hold. Where black meets white every
grey of an antialiased edge could be a grey ink as well: the pixel's own colour does not tell. Its place does. Walking
along the mixing line from pixel to pixel, an edge of the grey comes to rest on a body of it, an edge of the two others
passes it by; and a thin line that is darker than the grey anywhere near is no line of the grey.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.channels import total
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.cores import NONE
from sepkit.separation.unmix import Metric, vectors, weights

if TYPE_CHECKING:
    from sepkit.separation.shares import Members, Pixels
    from sepkit.separation.unmix import Space

Array = np.ndarray[Any, np.dtype[Any]]

TOP = 250  # the far end of a mixing line; its near end is 0
OFF = 255  # on no mixing line
WALKED = 1 << 17  # pixels walked from at once


@dataclass(frozen=True, slots=True)
class Middle:
    """A member that mixes from two others: its number, theirs, and where it lies from ``low`` (0) to ``high`` (TOP)."""

    number: int
    low: int
    high: int
    place: float
    slack: float
    """So near to its place is at its place."""


@dataclass(frozen=True, slots=True, eq=False)
class Marked:
    """A picture, what it is made of in which space, its (h, w) uint8 labels and (h, w) bool solid areas."""

    pixels: Pixels
    members: Members
    space: Space
    label: Array
    core: Array


def middles(members: Members, space: Space) -> tuple[Middle, ...]:
    """Return the members that lie on the mixing line of two others, once for each pair of others."""
    opaque = np.flatnonzero(members.alpha == 255).tolist()
    found: list[Middle] = []
    for number in opaque:
        for low, high in combinations([k for k in opaque if k != number], 2):
            place, off = _on_line(members.rgb[number : number + 1], members, (low, high), space)
            length = max(1.0, float(np.linalg.norm(members.rgb[low].astype(float) - members.rgb[high])))
            slack = TOP * tuned.BETWEEN.rest_levels / length
            if off[0] <= tuned.BETWEEN.line_levels and 2 * slack < place[0] < TOP - 2 * slack:
                found.append(Middle(number, low, high, float(place[0]), slack))
    return tuple(found)


def _on_line(rgb: Array, members: Members, ends: tuple[int, int], space: Space) -> tuple[Array, Array]:
    """Return where (n, 3) colours fall from one member (0) to another (TOP), and how many levels off the line."""
    solid = np.full(len(rgb), 255, np.uint8)
    p, weight = vectors(rgb, solid, space)[:, :3], weights(rgb, solid, Metric(space, 1.0))[:, :3]
    low, high = vectors(members.rgb[list(ends)], members.alpha[list(ends)], space)[:, :3]
    way, q = (high - low) * weight, (p - low) * weight
    place = total(q * way) / np.maximum(total(way * way), 1e-9)
    off = q - np.clip(place, 0, 1)[:, None] * way
    return place * TOP, np.sqrt(total(off * off))


def clear_false_bodies(marked: Marked, block: Array, found: tuple[Middle, ...]) -> Array:
    """Clear the cores of middle members that are edges or thin lines of other inks; return their flat indices.

    ``block`` (h, w) bool are cores in 2x2 blocks, which are bodies. Of a thin line of a middle member many pixels have
    its exact colour, and no more than one of the two others beside them; of other lines and edges few have by accident.
    """
    false: list[Array] = [np.zeros(0, np.int64)]
    for number in sorted({m.number for m in found}):
        at = np.flatnonzero(marked.core & ~block & (marked.label == number))
        if not at.size:
            continue
        bad = np.zeros(len(at), bool)
        for middle in (m for m in found if m.number == number):
            ring = _around(np.pad(_places(marked, at, middle), 1, constant_values=OFF), _padded(at, marked.label))
            bad |= _two_sided(ring, middle)
        alike = block & (marked.label == number)
        alike.ravel()[at[~bad]] = True
        reach = tuned.BETWEEN.line_px
        where = _padded(at, alike, reach)
        bad |= _around(np.pad(alike, reach), where, reach).sum(axis=1) + 1 < tuned.BETWEEN.least_line_px
        false.append(at[bad])
    gone = np.concatenate(false)
    marked.core.ravel()[gone] = False
    return gone


def forbidden(marked: Marked, at: Array, found: tuple[Middle, ...]) -> Array:
    """Return (n,) uint32: bit k where the mixed pixel at a flat index of ``at`` cannot hold member k."""
    out = np.zeros(len(at), np.uint32)
    where = _padded(at, marked.label)
    alpha = marked.pixels.alpha.ravel()[at]
    for middle in found:
        places = np.pad(_places(marked, at, middle), 1, constant_values=OFF)
        body = np.pad(marked.core & (marked.label == middle.number), 1)
        here = places.ravel()[where]
        own = np.abs(here - middle.place) <= middle.slack
        low = (here < middle.place) & ~own
        high = (here > middle.place) & ~own & (here != OFF)
        number = np.uint32(1 << middle.number)
        ways = (low, middle.high, (places, middle.place)), (high, middle.low, _turned(places, middle))
        for side, end, line in ways:
            every = np.flatnonzero(side)
            for start in range(0, len(every), WALKED):
                some = every[start : start + WALKED]
                rests = _rests(line, body, where[some], middle.slack)
                out[some] |= np.where(rests, np.uint32(1 << end), number)
        some = np.flatnonzero(own)
        at_rest = _around(body, where[some]).any(axis=1)
        wide = _two_sided(_around(places, where[some], tuned.BETWEEN.ridge_px), middle)
        out[some[_two_sided(_around(places, where[some]), middle) | (~at_rest & wide)]] |= number
        some = np.flatnonzero(alpha < 255)
        near = _around(body, where[some], 2).any(axis=1)
        out[some[~near & ~_pure(marked, at[some], middle.number)]] |= number
    return out


def _two_sided(ring: Array, middle: Middle) -> Array:
    """(n,) True where some of (n, k) places lie on one side of the middle and some on the other."""
    lower = (ring < middle.place - middle.slack).any(axis=1)
    higher = ((ring > middle.place + middle.slack) & (ring != OFF)).any(axis=1)
    return np.asarray(lower & higher)


def _padded(at: Array, plane: Array, border: int = 1) -> Array:
    """Flat indices in a plane with a border."""
    width = plane.shape[1]
    return np.asarray((at // width + border) * (width + 2 * border) + at % width + border)


def _turned(places: Array, middle: Middle) -> tuple[Array, float]:
    """Return the line seen from its other end."""
    return np.where(places == OFF, OFF, TOP - np.minimum(places, TOP)).astype(np.uint8), TOP - middle.place


def _around(padded: Array, where: Array, radius: int = 1) -> Array:
    """(n, k) values of the neighbours of flat indices in a padded plane; beyond its border the nearest index."""
    flat, wide = padded.ravel(), padded.shape[1]
    steps = [dy * wide + dx for dy in range(-radius, radius + 1) for dx in range(-radius, radius + 1) if dy or dx]
    out = np.empty((len(where), len(steps)), flat.dtype)
    for n, step in enumerate(steps):
        out[:, n] = flat[np.clip(where + step, 0, flat.size - 1)]
    return out


def _pure(marked: Marked, at: Array, number: int) -> Array:
    """(n,) True where a half clear pixel has just the colour of a member: it meets the open ground there."""
    off = np.abs(marked.pixels.rgb.reshape(-1, 3)[at].astype(np.int16) - marked.members.rgb[number]).max(axis=1)
    return np.asarray(off <= tuned.BETWEEN.rest_levels + 255 / np.maximum(marked.pixels.alpha.ravel()[at], 1))


def _places(marked: Marked, at: Array, middle: Middle) -> Array:
    """Return (h, w) uint8: where each pixel falls on the line, OFF where it holds other inks or is half clear."""
    table = np.full(256, OFF, np.uint8)
    table[[middle.low, middle.number, middle.high]] = 0, round(middle.place), TOP
    plane = table[np.where(marked.core, marked.label, NONE)]
    place, off = _on_line(marked.pixels.rgb.reshape(-1, 3)[at], marked.members, (middle.low, middle.high), marked.space)
    on = (off <= tuned.BETWEEN.mix_levels) & (marked.pixels.alpha.ravel()[at] == 255)
    on &= (place > -middle.slack) & (place < TOP + middle.slack)
    plane.ravel()[at] = np.where(on, np.rint(np.clip(place, 0, TOP)), OFF).astype(np.uint8)
    return plane


def _rests(line: tuple[Array, float], body: Array, where: Array, slack: float) -> Array:
    """Return (n,) whether the walk up from each pixel ends on a body of the middle member rather than past it.

    Around the ridge of a thin line, where neither is met, it is asked how far the line gets: a line of the middle
    member comes just to its colour, one of another ink to anywhere.
    """
    places, goal = line
    flat, at_body, wide = places.ravel(), body.ravel(), places.shape[1]
    steps = np.array([dy * wide + dx for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx])
    rests = np.zeros(len(where), bool)
    cur, todo = where.copy(), np.arange(len(where))
    ridge: list[Array] = []
    for step in range(tuned.BETWEEN.walk_px):
        ring = cur[todo][:, None] + steps
        value = np.where(flat[ring] == OFF, -1, flat[ring].astype(np.int16))
        best = value.argmax(axis=1)
        top, spot = value.max(axis=1), ring[np.arange(len(todo)), best]
        past = top > goal + slack
        mostly = (flat[cur[todo]] > goal / 2) & (step == 0)  # where all three meet the pixel's own colour tells
        on_body = at_body[ring].any(axis=1) & (~past | mostly)
        past &= ~on_body
        stuck = ~on_body & ~past & (top <= flat[cur[todo]])
        rests[todo[on_body]] = True
        ridge.append(todo[stuck])
        going = ~(on_body | past | stuck)
        cur[todo[going]] = spot[going]
        todo = todo[going]
    left = np.concatenate([*ridge, todo])
    values = _around(places, cur[left], tuned.BETWEEN.ridge_px)
    top = np.where(values == OFF, 0, values).max(axis=1, initial=0)
    rests[left] = (top <= goal + slack) & (top >= goal - 2 * slack)
    return rests
