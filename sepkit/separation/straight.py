"""The blend space of art made of thin lines, told by how straight its edges come out.

In: a picture solved in two spaces. Out: roughness of each. Along a nearly level edge or line, the coverage summed
across it changes evenly from pixel to pixel. Solved in the wrong space, coverage is bent, by an amount that depends on
where the edge falls within its pixel, so the sums wave.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation import tuned_mixing as tuned

if TYPE_CHECKING:
    from sepkit.separation.shares import Members, Shares

Array = np.ndarray[Any, np.dtype[Any]]

MOST_PX = 2_000_000  # of the picture, the rows around the middle of its mixed pixels


def roughness(shares: Shares, label: Array, members: Members) -> tuple[float, int]:
    """Return the mean second difference of summed coverage along level edges, and over how many places."""
    height, width = label.shape
    rows = min(height, max(32, MOST_PX // width))
    middle = int(np.median(shares.at // width)) if shares.at.size else 0
    top = int(np.clip(middle - rows // 2, 0, height - rows))
    part = slice(top, top + rows)
    core, marks = shares.core[part], label[part]
    here = (shares.at >= top * width) & (shares.at < (top + rows) * width)
    at, key = shares.at[here] - top * width, shares.key[here]
    total, places = 0.0, 0
    for m in np.flatnonzero(members.alpha == 255):
        plane = (core & (marks == m)).astype(np.float32)
        plane.ravel()[at] = np.where(shares.mixture.member == m, shares.mixture.share, 0).sum(axis=1)[key]
        for turned, solid in ((plane, core), (plane.T, core.T)):
            waves = _waves(turned, solid)
            total, places = total + float(waves.sum()), places + waves.size
    return total / max(places, 1), places


def _waves(plane: Array, solid: Array) -> Array:
    """Second differences along x of sums over y, where the sums start and end in solid areas but cross mixed pixels."""
    from scipy import ndimage

    reach = tuned.BLEND.wave_px
    if min(plane.shape) < 2 * reach + 3:
        return np.zeros(0, np.float32)
    across = ndimage.uniform_filter1d(plane, 2 * reach + 1, axis=0) * (2 * reach + 1)
    ends = np.zeros(solid.shape, bool)
    ends[reach:-reach] = solid[: -2 * reach] & solid[2 * reach :]
    mixed = ~solid & (plane > 0)
    use = mixed[:, 1:-1] & ends[:, 1:-1] & ends[:, :-2] & ends[:, 2:]
    second = np.abs(across[:, 2:] - 2 * across[:, 1:-1] + across[:, :-2])[use]
    return np.asarray(second[second < tuned.BLEND.wave_most])
