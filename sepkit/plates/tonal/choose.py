"""Inks chosen together for what they make: for every number of screens the set whose predicted print is nearest.

In: the weighted colours of a picture, its flat colours, candidate inks, the cloth, the base white. Out: for 1, 2, ...
screens a ``ScreenSet``. One screen is added at a time, the one with which all can come nearest to all colours by
their dots and overprints; then each is tried in the place of another. Custom inks chosen by what they print together,
not by clusters of pixels: Stollnitz, Ostromoukhov and Salesin, "Reproducing Color Images Using Custom Inks", SIGGRAPH
1998. Here the primaries come from layer optics, so that an ink may be anything between transparent and opaque; on
dark cloth a base is one of the screens, and a white may go on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.coverage.channels import total
from sepkit.inks.layers import printed_reflectance
from sepkit.plates.tonal.metric import Wanted
from sepkit.plates.tonal.optics import Film, mean_light, stack_light
from sepkit.plates.tonal.solve import solve_dots

if TYPE_CHECKING:
    from sepkit.model import F64, Ink
    from sepkit.plates.tonal.cloud import Cloud

Array = np.ndarray[Any, np.dtype[Any]]

MOST_SCREENS = 6
STEPS, SWAP_STEPS, LAST_STEPS = 4, 3, 8
SWAPS = 2
"""Rounds of exchange at each number of screens."""
DOTS_IN_FLAT = 3.0
"""What dots cost in the place of a flat colour, in ΔE00 (as for the knee)."""
FLAT_WEIGHT = 0.5
"""What the flat colours of mixed art count in all, beside its tones."""
LINE_INK_PRICE = 36.0
"""What each further ink over or under a line costs, as a squared ΔE00: lines of two inks show a fringe (our own)."""
MIX_LOSS = 0.12
"""What an ink must gain that is to be mixed first, in ΔE00."""
GAIN = 0.05
"""Sets are exchanged for this gain, in ΔE00."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """An ink that may be chosen."""

    ink: Ink
    mixed: bool = False
    """Whether it must be mixed first."""


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """A screen of a set: its film, where it lies, and whether its ink must be mixed."""

    film: Film
    role: str
    """"base", "colour" or "top"."""
    mixed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class ScreenSet:
    """Screens in print order, and how near they come."""

    places: tuple[Place, ...]
    dots: Array
    """(m, n) for the colours of the cloud."""
    loss: float
    """What is seen, weighted: the root of the mean square ΔE00."""
    flat_dots: Array
    """(f, n) for the flat colours; (0, n) for lines, which are never in dots."""

    @property
    def films(self) -> list[Film]:
        """The films in print order."""
        return [place.film for place in self.places]

    @property
    def has_base(self) -> bool:
        """Whether its first screen is a base."""
        return self.places[0].role == "base"


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """What was weighed for tonal art: the best set for each number of screens, and the one that is printed."""

    tried: tuple[ScreenSet, ...]
    chosen: ScreenSet


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What inks are chosen for."""

    cloud: Cloud
    flats: Array
    """(f, 3) Lab of flat colours."""
    flat_weight: Array
    """(f,), their sum FLAT_WEIGHT at most."""
    cloth: F64
    white: Ink
    base: bool
    """Whether a base may be one of the screens."""
    chroma: float = 1.0
    """Below 1 colours may go astray, lightness less: for inks that a person named."""
    lines: bool = False
    """Whether the flat colours are lines: never in dots, and of few inks over each other."""


def screen_sets(
    task: Task,
    candidates: Sequence[Candidate],
    *,
    most: int = MOST_SCREENS,
    must_all: bool = False,
    quick: bool = False,
) -> list[ScreenSet]:
    """Return the best set found for 1, 2, ... ``most`` screens; ``must_all``: the one set of all candidates instead.

    With ``must_all`` there may be two: without and with a base. ``quick``: no screen is exchanged.
    """
    search = _Search(task, list(candidates), swaps=0 if quick else SWAPS)
    return search.all_of_them() if must_all else search.run(most)


class _Search:
    def __init__(self, task: Task, candidates: list[Candidate], *, swaps: int) -> None:
        self.task, self.swaps = task, swaps
        self.few = len(task.cloud.lab)
        solved = task.cloud.lab if task.lines else np.concatenate([task.cloud.lab, task.flats])
        self.wanted = Wanted.of(solved, chroma=task.chroma)
        self.flats = Wanted.of(task.flats, chroma=task.chroma)
        cloth_l = float(reflectance_to_lab(task.cloth)[0])
        self.options = [Place(Film(one.ink), "colour", one.mixed) for one in candidates if one.ink is not task.white]
        self.white = any(one.ink is task.white for one in candidates)
        self.cloth_l = cloth_l
        self.bases = [Place(Film(task.white, coats), "base") for coats in (1, 2)] if task.base else []
        self.light = {id(place): self._lightness(place) for place in self.options}

    def _lightness(self, place: Place) -> float:
        on_white = printed_reflectance([(place.film.ink, 1.0)], np.full(len(self.task.cloth), 0.9))
        return float(reflectance_to_lab(on_white)[0])

    def all_of_them(self) -> list[ScreenSet]:
        places: tuple[Place, ...] = ()
        for option in self.options:
            places = self._with(places, option)
        top = (Place(Film(self.task.white), "top" if places else "base"),) if self.white else ()
        ways = [(*places, *top), *((base, *places, *top) for base in self.bases)]
        return [self._settled(self._scored([way], [None], STEPS)[0]) for way in ways if way]

    def run(self, most: int) -> list[ScreenSet]:
        found: list[ScreenSet] = []
        beam: list[ScreenSet] = []
        for size in range(1, most + 1):
            tried, starts = [], []
            for before in beam or [None]:  # type: ignore[list-item]
                for places in self._grown(() if before is None else before.places):
                    tried.append(places)
                    starts.append(before)
            if not tried:
                break
            scored = sorted(self._scored(tried, starts, STEPS), key=lambda one: one.loss)
            best = scored[0]
            for _ in range(self.swaps if size > 1 else 0):
                swapped = self._swapped(best)
                if swapped is None:
                    break
                best = swapped
            best = self._settled(best)
            other = next((one for one in scored if one.has_base != best.has_base), None)
            beam = [best] if other is None else [best, other]
            found.append(best)
        return found

    def _grown(self, places: tuple[Place, ...]) -> list[tuple[Place, ...]]:
        """Return the sets with one screen more."""
        used = {id(place.film.ink) for place in places if place.role == "colour"}
        out = [self._with(places, option) for option in self.options if id(option.film.ink) not in used]
        based = bool(places) and places[0].role == "base"
        if not based:
            out += [(base, *places) for base in self.bases]
        elif places[-1].role != "top":
            out.append((*places, Place(Film(self.task.white), "top")))
        if not self.bases and self.white and not any(place.role == "top" for place in places):
            out.append((*places, Place(Film(self.task.white), "top")))
        return out

    def _with(self, places: tuple[Place, ...], option: Place) -> tuple[Place, ...]:
        """Return the places with a colour among them: light inks before dark ones, between base and top white."""
        at = 0
        while at < len(places) and (
            places[at].role == "base"
            or (places[at].role == "colour" and self.light[id(places[at])] >= self.light[id(option)])
        ):
            at += 1
        return (*places[:at], option, *places[at:])

    def _swapped(self, best: ScreenSet) -> ScreenSet | None:
        """Return the best set with one screen exchanged, where that gains."""
        tried = []
        for at, place in enumerate(best.places):
            left = best.places[:at] + best.places[at + 1 :]
            if place.role == "base":
                others = [base for base in self.bases if base is not place]
                tried += [(base, *left) for base in others]
                if left and left[-1].role == "top":
                    continue
            tried += [one for one in self._grown(left) if one != best.places]
        if not tried:
            return None
        scored = self._scored(tried, [best] * len(tried), SWAP_STEPS)
        first = min(scored, key=lambda one: one.loss)
        return self._settled(first) if first.loss < best.loss - GAIN else None

    def _settled(self, one: ScreenSet) -> ScreenSet:
        return self._scored([one.places], [one], LAST_STEPS)[0]

    def _scored(
        self, tried: Sequence[tuple[Place, ...]], starts: Sequence[ScreenSet | None], steps: int
    ) -> list[ScreenSet]:
        """Return the sets solved, those of one size together."""
        out: list[ScreenSet | None] = [None] * len(tried)
        for size in sorted({len(places) for places in tried}):
            rows = [at for at, places in enumerate(tried) if len(places) == size]
            stacks = np.stack([stack_light([place.film for place in tried[at]], self.task.cloth) for at in rows])
            start = np.stack([self._start(tried[at], starts[at]) for at in rows])
            dots = solve_dots(stacks, self.wanted, start=start, steps=steps)
            away = self.wanted.away(mean_light(dots, stacks))
            square = total(away * away)
            for row, at in enumerate(rows):
                loss = self._loss(square[row], stacks[row]) + MIX_LOSS * sum(place.mixed for place in tried[at])
                out[at] = ScreenSet(tuple(tried[at]), dots[row, : self.few], loss, dots[row, self.few :])
        return [one for one in out if one is not None]

    def _start(self, places: tuple[Place, ...], before: ScreenSet | None) -> Array:
        start = np.full((len(self.wanted.lab), len(places)), 0.25)
        if before is not None:
            known = np.concatenate([before.dots, before.flat_dots])
            column = {id(place): k for k, place in enumerate(before.places)}
            for k, place in enumerate(places):
                if id(place) in column:
                    start[:, k] = known[:, column[id(place)]]
                elif place.role == "base":
                    start[:, k] = 0.6
        return start

    def _loss(self, square: Array, stacks: Array) -> float:
        lost, weight = float(square[: self.few] @ self.task.cloud.weight), 1.0
        if len(self.task.flats):
            away = self.flats.away(stacks[:, None, :])
            each = total(away * away)
            if self.task.lines:
                each += LINE_INK_PRICE * np.maximum(_inks_in(len(stacks)) - 1, 0)[:, None]
                lines = float(each.min(axis=0) @ self.task.flat_weight)
                return float(np.sqrt((lost + lines) / (weight + float(self.task.flat_weight.sum()))))
            solid = each.min(axis=0)
            # Within screens.SOLID_GOOD_DE00 films have a flat solid even so. Counted thus, a set would lose by a jump
            # as it comes that near; counted as here, such a flat is taken for 2 ΔE00 too good at most.
            flat = np.minimum(solid, square[self.few :] + DOTS_IN_FLAT**2)
            lost += float(flat @ self.task.flat_weight)
            weight += float(self.task.flat_weight.sum())
        return float(np.sqrt(lost / weight))


def _inks_in(count: int) -> Array:
    """Return how many inks each of so many stacks has."""
    stacks = np.arange(count)
    return np.asarray(sum(stacks >> k & 1 for k in range(count.bit_length() - 1)))
