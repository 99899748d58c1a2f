"""The parts of a mask, found by its runs along rows: cost follows edges, and no plane of labels is held.

In: a mask (h, w) bool. Out: Parts, numbered from 1 in the order in which rows meet them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.hanging_together import groups

if TYPE_CHECKING:
    from sepkit.model import Bool

I64 = np.ndarray[Any, np.dtype[np.int64]]
BAND_PIXELS = 1 << 20


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Runs of a mask in the order of rows, and the part that each belongs to."""

    shape: tuple[int, int]
    rows: I64
    starts: I64
    """First column of each run."""
    stops: I64
    """The column after its last."""
    labels: I64
    """The number of its part, from 1."""
    count: int
    """How many parts there are."""

    @staticmethod
    def of(mask: Bool, *, corners: bool = True) -> Parts:
        """Return the parts of a mask; ``corners``: pixels that meet at a corner alone are joined.

        >>> found = Parts.of(np.eye(3, dtype=bool))
        >>> found.count, found.areas.tolist(), found.boxes[1].tolist()
        (1, [0, 3], [0, 0, 3, 3])
        """
        height, width = mask.shape
        wide = width + 2  # with a bare column at either end no run reaches the next row
        ends = np.concatenate([np.zeros(0, np.int64), *_ends(mask)])
        first, last = ends[::2], ends[1::2]
        reach = int(corners)
        low = np.searchsorted(last + wide, first - reach, "right")
        touched = np.searchsorted(first + wide, last + reach, "left") - low
        labels, count = _joined(low, touched)
        rows = first // wide
        return Parts((height, width), rows, first - rows * wide - 1, last - rows * wide - 1, labels, count)

    @property
    def areas(self) -> I64:
        """Pixels of each part, (count + 1,); of what is no part 0."""
        return np.bincount(self.labels, self.stops - self.starts, self.count + 1).astype(np.int64)

    @property
    def boxes(self) -> I64:
        """Top, left, bottom and right of each part, (count + 1, 4), ends behind the last pixel."""
        out = np.zeros((self.count + 1, 4), np.int64)
        if self.count:
            order = np.argsort(self.labels, kind="stable")
            first = np.searchsorted(self.labels[order], np.arange(1, self.count + 1))
            picks = ((np.minimum, self.rows), (np.minimum, self.starts), (np.maximum, self.rows + 1))
            for side, (pick, values) in enumerate((*picks, (np.maximum, self.stops))):
                out[1:, side] = pick.reduceat(values[order], first)
        return out

    def pixels(self, chosen: Bool | None = None) -> tuple[I64, I64, I64]:
        """Return rows, columns and part numbers of all pixels, along rows; of ``chosen`` parts (count + 1,) alone."""
        here = slice(None) if chosen is None else chosen[self.labels]
        starts, long = self.starts[here], (self.stops - self.starts)[here]
        before = np.cumsum(long) - long
        columns = np.arange(int(long.sum())) + np.repeat(starts - before, long)
        return np.repeat(self.rows[here], long), columns, np.repeat(self.labels[here], long)

    def mask(self, chosen: Bool) -> Bool:
        """Return the mask (h, w) of ``chosen`` parts, (count + 1,)."""
        here, (height, width) = chosen[self.labels], self.shape
        ends = np.stack([self.rows[here] * width + edge[here] for edge in (self.starts, self.stops)], axis=1).ravel()
        lengths = np.diff(ends, prepend=0, append=height * width)
        out: Bool = np.repeat(np.arange(len(lengths)) % 2 == 1, lengths).reshape(self.shape)
        return out

    def at(self, rows: I64, columns: I64) -> I64:
        """Return the part numbers of pixels, 0 where there is none."""
        width, wanted = self.shape[1], rows * self.shape[1] + columns
        if not self.count:
            return np.zeros_like(wanted)
        run = np.searchsorted(self.rows * width + self.starts, wanted, "right") - 1
        inside = (run >= 0) & (wanted < (self.rows * width + self.stops)[run])
        return np.where(inside, self.labels[run], 0)

    def drawn(self, number: int) -> Bool:
        """Return one part within its box, (h, w)."""
        runs = np.flatnonzero(self.labels == number)
        rows, starts, stops = self.rows[runs] - self.rows[runs[0]], self.starts[runs], self.stops[runs]
        out = np.zeros((int(rows[-1]) + 1, int(stops.max() - starts.min())), bool)
        left = int(starts.min())
        for row, start, stop in zip(rows.tolist(), starts.tolist(), stops.tolist(), strict=True):
            out[row, start - left : stop - left] = True
        return out


def _ends(mask: Bool) -> Iterator[I64]:
    """Yield the ends of runs, first and behind the last in turn, as places in rows with a bare pixel at either end."""
    height, width = mask.shape
    for band in row_bands(height, max(1, BAND_PIXELS // max(width, 1))):
        rows = np.zeros((band.stop - band.start, width + 2), bool)
        rows[:, 1:-1] = mask[band.start : band.stop]
        flat = rows.ravel()
        yield np.flatnonzero(flat[1:] != flat[:-1]) + (1 + band.start * (width + 2))


def _joined(low: I64, touched: I64) -> tuple[I64, int]:
    """Return the part of each run, and how many parts: run k touches ``touched[k]`` runs from ``low[k]`` on."""
    total = len(low)
    below = np.repeat(np.arange(total), touched)
    above = np.arange(len(below)) + np.repeat(low - (np.cumsum(touched) - touched), touched)
    found, count = groups(below, above, total)
    return found + 1, count
