"""Pinholes and voids: spots that the films do not explain, each with its screen, place on that film, and size.

In: a fit. Out: Spots, worst first, and where nothing could be judged. Light, dye and tone that change slowly within a
stack are taken out first; then spots of five sizes are looked for where no visible edge is near, against the spread
that cloth and ink have there anyway. The screen is the one whose ink more, or less, has the colour of the spot.
Work goes by windows, so that memory does not grow with the print. Limits stand in SPOTTING; they were chosen on
simulated photographs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.reading.mixing import encoded, mixed, stack_codes
from sepkit.reading.subject import Patch
from sepkit.reading.tiles import lit, to_film

if TYPE_CHECKING:
    from sepkit.model import F32, F64, Bool
    from sepkit.reading.picture import Photo
    from sepkit.reading.screens import Fit
    from sepkit.reading.subject import Subject

    I64 = np.ndarray[Any, np.dtype[np.int64]]

SpotKind = Literal["pinhole", "void"]
"""Ink where the film is clear; no ink where it is black."""


@dataclass(frozen=True, slots=True)
class Spotting:
    """What counts as a spot."""

    edge_mm: float = 0.28
    """Nearer than this to a visible edge nothing is judged: register and growth are known to a third of it."""
    spread: float = 7.0
    """A spot differs by more than this many spreads of cloth or ink at its size."""
    small_mm: float = 0.32
    small_spread: float = 8.6
    """A spot of less than that across by more than this: a print has many places for one. Grain came to 7.7, the
    faintest spots of 0.3 mm that were printed to 9.8."""
    share: float = 0.22
    """And by more than this share of the ink in question."""
    visible: float = 0.08
    """Ink that changes a stack by less than this (cube root of linear light) shows no spots."""
    likeness: float = 0.6
    """Cosine to the colour of an ink more or less; what is like none is lint or dirt."""
    long: float = 3.2
    """Longer than this for its width, and small: a fibre."""
    doubt: float = 0.33
    """Cells whose edges lie off by more than this share of their contrast are not judged."""
    sizes_mm: tuple[float, ...] = (0.3, 0.5, 0.9, 1.6, 2.4)
    outside_mm: float = 1.4
    """How far outside the art spots are told: corner marks stand beyond."""


SPOTTING = Spotting()
WINDOW_MM, HALO_MM = 75.0, 6.0
MOST_PX_PER_MM = 9.0
CELL_MM = 10.0
SLOW_MM = 4.0
"""Colour that changes over more than this within a stack is light or dye, no spot."""
MOST_PEAKS = 3000
FEW = 1500
"""So many places are looked at one by one, which is faster up to about here: most windows have few."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One spot: its screen (place in print order), its middle on that film in mm, its diameter by area in mm."""

    kind: SpotKind
    screen: int
    x_mm: float
    y_mm: float
    size_mm: float
    strength: float
    """In spreads of cloth or ink."""
    sure: bool
    cloth_mm: tuple[float, float]
    """Where it lies on the cloth, in the reference screen's mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """What was found, and the share of the print that could not be judged."""

    spots: tuple[Spot, ...]
    doubtful: float
    toned: float
    """Share of the art that is halftone, where no spots are told."""


def find_spots(subject: Subject, photo: Photo, fit: Fit, limits: Spotting = SPOTTING) -> Spots:
    """Return the spots of a photograph that was fitted."""
    found: list[Spot] = []
    cells, doubtful, toned, area = 0, 0, 0, 0
    for window in _windows(subject, fit):
        view = _View(subject, photo, fit, window, limits)
        found += view.spots()
        cells += int(view.judged.sum())
        doubtful += int(view.doubt.sum())
        toned += int(view.tone[view.inner].sum())
        area += view.tone[view.inner].size
    found.sort(key=lambda spot: -spot.strength)
    return Spots(tuple(found), doubtful / max(cells, 1), toned / max(area, 1))


def _windows(subject: Subject, fit: Fit) -> Iterator[Patch]:
    r = min(MOST_PX_PER_MM, max(6.0, fit.px_per_mm))
    out = min(SPOTTING.outside_mm, subject.margin_mm)
    for x in _starts(subject.width_mm + 2 * out):
        for y in _starts(subject.height_mm + 2 * out):
            wide = min(WINDOW_MM, subject.width_mm + 2 * out - x) + 2 * HALO_MM
            high = min(WINDOW_MM, subject.height_mm + 2 * out - y) + 2 * HALO_MM
            yield Patch(x - out - HALO_MM, y - out - HALO_MM, round(wide * r), round(high * r), r)


def _starts(length: float) -> F64:
    return np.arange(0.0, length, WINDOW_MM)


@dataclass(frozen=True, slots=True, eq=False)
class _Peak:
    """Something that differs: in spreads, at which size, where; its colour there and the spread of it."""

    strength: float
    size_mm: float
    row: int
    column: int
    soft: F32
    spread: F32


class _View:
    """One window of the print: what is seen against what should be, and where that can be judged."""

    def __init__(self, subject: Subject, photo: Photo, fit: Fit, window: Patch, limits: Spotting) -> None:
        from scipy.ndimage import gaussian_filter

        self.subject, self.fit, self.window, self.limits = subject, fit, window, limits
        self.r = window.px_per_mm
        state = fit.state
        self.colours = state.look.colours
        x, y = np.meshgrid(window.xs, window.ys)
        far = [
            subject.distance(k, *to_film(subject, screen, x, y)) - np.float32(screen.growth_mm)
            for k, screen in enumerate(state.screens)
        ]
        planes = [np.clip(np.float32(0.5) - one * np.float32(self.r), 0, 1) for one in far]
        seen = lit(photo, state.warp, state.look, subject, window)
        self.bad = ~np.isfinite(seen[..., 0])
        seen[self.bad] = 0
        self.seen = seen
        self.sigma = max(0.075, 0.75 / fit.px_per_mm) * self.r
        self.model = gaussian_filter(mixed(planes, self.colours), (self.sigma, self.sigma, 0))
        self.code = stack_codes(planes)
        self.tone = subject.tones(window)
        self.codes = encoded(self.colours.astype(np.float32))
        self.near, self.core = self._edges(far)
        edge = round(HALO_MM * self.r)
        self.inner = (slice(edge, window.height - edge), slice(edge, window.width - edge))
        look = encoded(self.model)
        self.rest = encoded(seen) - look
        self.rest[self.bad | self.tone] = 0
        self.ok = ~(self.bad | self.near | self.tone)
        self.judged, self.doubt = self._doubtful(look)
        inside = np.where(self.ok, self.code, len(self.colours)).ravel()
        count = np.bincount(inside, minlength=len(self.colours))
        self.points = {k: np.flatnonzero(inside == k) for k in range(len(self.colours)) if count[k]}
        self.whole = self.rest - self._slow()
        self.clean = np.where(self.ok[..., None], self.whole, np.float32(0))

    def _edges(self, far_mm: Sequence[F32]) -> tuple[Bool, Bool]:
        """Return where a visible edge is near, and where one runs."""
        near, core = np.zeros(self.code.shape, bool), np.zeros(self.code.shape, bool)
        every = np.arange(len(self.codes))
        for k, far in enumerate(far_mm):
            step = np.linalg.norm(self.codes[every ^ (1 << k)] - self.codes[every], axis=1)
            off = np.where((step > 0.05)[self.code], np.abs(far), np.float32(9))
            near |= off < self.limits.edge_mm
            core |= off < 0.1
        return near, core

    def _doubtful(self, look: F32) -> tuple[Bool, Bool]:
        """Return the cells whose edges can be judged, and those whose edges do not lie as fitted."""
        from scipy.ndimage import maximum_filter, minimum_filter

        contrast = sum(maximum_filter(look[..., c], 5) - minimum_filter(look[..., c], 5) for c in range(3))
        use = self.core & ~self.bad & ~self.tone & (contrast > 0.12)
        off = np.abs(self.rest).sum(-1)
        step = max(4, round(CELL_MM * self.r))
        count = _cells(use, step)
        judged = count > 12
        share = _cells(np.where(use, off, 0), step) / np.maximum(_cells(np.where(use, contrast, 0), step), 1e-6)
        return judged, judged & (share > self.limits.doubt)

    def _slow(self) -> F32:
        """Return the slow change of colour within each stack."""
        from PIL import Image
        from scipy.ndimage import gaussian_filter

        by = max(1, round(SLOW_MM * self.r / 6))
        h, w = self.code.shape
        hh, ww = h // by * by, w // by * by
        out = np.zeros_like(self.rest)
        for stack in self.points:
            mask = self.ok & (self.code == stack)
            count = mask[:hh, :ww].reshape(hh // by, by, ww // by, by).sum(axis=(1, 3)).astype(np.float32)
            weight = gaussian_filter(count, SLOW_MM * self.r / by) + 1e-3
            mine = self.code == stack
            for c in range(3):
                part = np.where(mask, np.clip(self.rest[..., c], -0.15, 0.15), 0)[:hh, :ww]
                mean = gaussian_filter(part.reshape(hh // by, by, ww // by, by).sum(axis=(1, 3)), SLOW_MM * self.r / by)
                large = Image.fromarray((mean / weight).astype(np.float32)).resize((w, h), Image.Resampling.BILINEAR)
                out[..., c][mine] = np.asarray(large)[mine]
        return out

    def spots(self) -> list[Spot]:
        """Return the spots whose middle lies in the window itself."""
        taken = np.zeros(self.code.shape, bool)
        out = []
        for peak in self._peaks():
            y, x = peak.row, peak.column
            if taken[y, x]:
                continue
            spot = self._spot(peak, taken)
            inside = self.inner[0].start <= y < self.inner[0].stop and self.inner[1].start <= x < self.inner[1].stop
            if spot is not None and inside:
                out.append(spot)
        return out

    def _peaks(self) -> list[_Peak]:
        """Return all that differs, the strongest first."""
        from scipy.ndimage import gaussian_filter

        peaks: list[_Peak] = []
        for size in self.limits.sizes_mm:
            sigma = float(np.hypot(0.3 * size * self.r, self.sigma * 0.8))
            soft = gaussian_filter(self.clean, (sigma, sigma, 0), truncate=3)
            spread = self._spreads(soft)
            strength = np.where(self.ok, np.sqrt((soft / spread) ** 2 @ np.ones(3, np.float32)), 0)
            side = max(3, int(size * self.r)) | 1
            rows = _summits(strength, self.limits.spread, side)[:MOST_PEAKS]
            peaks += [
                _Peak(float(strength[y, x]), size, int(y), int(x), soft[y, x].copy(), spread[y, x].copy())
                for y, x in rows
            ]
        return sorted(peaks, key=lambda peak: -peak.strength)

    def _spreads(self, soft: F32) -> F32:
        """Return the spread of each channel at every point: that of its stack in this window."""
        table = np.ones((len(self.codes), 3), np.float32)
        known = []
        flat = soft.reshape(-1, 3)
        for stack, points in self.points.items():
            part = flat[points[::7]]
            if len(part) > 100:
                table[stack] = np.median(np.abs(part), axis=0) * 1.48 + 2e-4
                known.append(stack)
        if known:
            unknown = np.setdiff1d(np.arange(len(table)), known)
            table[unknown] = table[known].max(axis=0)
        return table[self.code]

    def _spot(self, peak: _Peak, taken: Bool) -> Spot | None:
        from scipy.ndimage import binary_dilation, label

        size, y, x = peak.size_mm, peak.row, peak.column
        stack = int(self.code[y, x])
        colour = self.clean[max(0, y - 1) : y + 2, max(0, x - 1) : x + 2].mean(axis=(0, 1))
        found = self._screen(stack, colour)
        if found is None:
            return None
        likeness, screen, step = found
        reach = int(max(2, 1.6 * max(size, 0.6) * self.r))
        part = (slice(max(0, y - reach), y + reach + 1), slice(max(0, x - reach), x + reach + 1))
        at = (y - part[0].start, x - part[1].start)
        share = self.clean[part] @ step / float(step @ step)
        blob, _ = label(share > 0.18)
        if blob[at] == 0 or not self._counts(peak, step):
            return None
        blob = blob == blob[at]
        wide = binary_dilation(blob, iterations=2)
        taken[part] |= wide
        around = max(1, int(size * self.r))
        taken[max(0, y - around) : y + around + 1, max(0, x - around) : x + around + 1] = True
        linear = self.colours[stack ^ (1 << screen)] - self.colours[stack]
        cover = np.clip((self.seen[part] - self.model[part]) @ linear / float(linear @ linear), 0, 1.2)
        across = 2 * float(np.sqrt(cover[wide].sum() / np.pi)) / self.r
        if across < self.limits.small_mm and peak.strength < self.limits.small_spread:
            return None
        if likeness < self.limits.likeness or (_length(share, blob) > self.limits.long and across < 1.2):
            return None
        if across > 0.25 and self._hangs_on_edge(part, at, step):
            return None
        rows, columns = np.nonzero(blob)
        weight = np.clip(share[blob], 0, 1.2)
        place = self._cloth(
            float(rows @ weight / weight.sum()) + part[0].start, float(columns @ weight / weight.sum()) + part[1].start
        )
        film = to_film(self.subject, self.fit.state.screens[screen], np.array(place[0]), np.array(place[1]))
        cell = max(4, round(CELL_MM * self.r))
        sure = not self.doubt[y // cell, x // cell]
        kind: SpotKind = "void" if stack >> screen & 1 else "pinhole"
        return Spot(kind, screen, float(film[0]), float(film[1]), across, peak.strength, bool(sure), place)

    def _counts(self, peak: _Peak, step: F32) -> bool:
        """Tell whether a peak differs enough along the colour of an ink, in spreads and in share of it."""
        share = float(peak.soft @ step) / float(step @ step)
        weighed = step / peak.spread**2
        strength = float(peak.soft @ weighed) / float(np.sqrt(step @ weighed))
        return share > self.limits.share * min(1.0, peak.size_mm / 0.5) and strength > self.limits.spread

    def _cloth(self, row: float, column: float) -> tuple[float, float]:
        return self.window.x_mm + (column + 0.5) / self.r, self.window.y_mm + (row + 0.5) / self.r

    def _screen(self, stack: int, colour: F32) -> tuple[float, int, F32] | None:
        """Return (cosine, screen, its step of colour) of the screen that a change of colour is most like."""
        best = None
        for k in range(self.subject.count):
            step = self.codes[stack ^ (1 << k)] - self.codes[stack]
            if np.linalg.norm(step) < self.limits.visible:
                continue
            like = float(colour @ step / (np.linalg.norm(colour) * np.linalg.norm(step) + 1e-9))
            if best is None or like > best[0]:
                best = (like, k, step)
        return best

    def _hangs_on_edge(self, part: tuple[slice, slice], at: tuple[int, int], step: F32) -> bool:
        """Tell whether a spot goes on to an edge: then it is that edge's."""
        from scipy.ndimage import label

        blobs, _ = label(self.whole[part] @ step / float(step @ step) > 0.2)
        return bool(blobs[at] and (self.core[part] & (blobs == blobs[at])).any())


def _summits(strength: F32, least: float, side: int) -> I64:
    """Return rows and columns (n, 2) above ``least`` with nothing stronger in a square of ``side`` around them."""
    at = np.argwhere(strength > least)
    if len(at) > FEW:
        from scipy.ndimage import maximum_filter

        return np.argwhere((strength > least) & (strength >= maximum_filter(strength, side)))
    half = side // 2
    highest = [
        bool(strength[y, x] >= strength[max(0, y - half) : y + half + 1, max(0, x - half) : x + half + 1].max())
        for y, x in at
    ]
    return np.asarray(at[np.array(highest, bool)], np.int64)


def _cells(plane: F32 | Bool, step: int) -> F64:
    h, w = plane.shape
    rows, columns = -(-h // step), -(-w // step)
    wide = np.zeros((rows * step, columns * step))
    wide[:h, :w] = plane
    return np.asarray(wide.reshape(rows, step, columns, step).sum(axis=(1, 3)))


def _length(share: F32, blob: Bool) -> float:
    """Return how much longer than wide a blob is, by its second moments."""
    rows, columns = np.nonzero(blob)
    if len(rows) < 4:
        return 1.0
    weight = np.clip(share[blob], 0, 1.2)
    weight = weight / weight.sum()
    y, x = rows - rows @ weight, columns - columns @ weight
    moments = np.array([[weight @ (x * x) + 0.08, weight @ (x * y)], [weight @ (x * y), weight @ (y * y) + 0.08]])
    low, high = np.linalg.eigvalsh(moments)
    return float(np.sqrt(high / low))


def agreed(found: Sequence[Spots], apart_mm: float = 0.8) -> tuple[Spot, ...]:
    """Return the spots that several photographs agree on: those that more than half of them show."""
    first, *others = found
    if not others:
        return first.spots
    out = []
    for spot in first.spots:
        same = [
            any(
                other.screen == spot.screen
                and other.kind == spot.kind
                and np.hypot(other.x_mm - spot.x_mm, other.y_mm - spot.y_mm) < apart_mm + spot.size_mm / 2
                for other in more.spots
            )
            for more in others
        ]
        if (1 + sum(same)) * 2 > len(found):
            out.append(spot)
    return tuple(out)
