"""The fit of a photograph: cloth and screens, from coarse to fine, from two starts; then what of it can be told.

In: a Subject, a Photo and a Place. Out: Fit: the state, each screen with its band, or why it cannot be told.
The reference is the screen that shows best, a base first. A screen is not told where its edges hardly show, where two
starts end apart, or where its band is too wide: a confident wrong figure moves a screen that was right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.cloth import Cloth, likeliest, loosened, ragged_edges
from sepkit.reading.lay import strayed
from sepkit.reading.light import look_of
from sepkit.reading.mixing import encoded, mixed
from sepkit.reading.shows import hidden_screens, reference_screen, seen_edges
from sepkit.reading.solve import UNKNOWN, Band, System, learnt_colours
from sepkit.reading.tiles import (
    SEEN_ALONE,
    Equation,
    ScreenFit,
    State,
    Tile,
    choose_tiles,
    coverages,
    covered,
    disc_tiles,
    equation,
    lit,
    printed_at,
)
from sepkit.reading.warp import Warp

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.reading.find import Place
    from sepkit.reading.light import Look
    from sepkit.reading.picture import Photo
    from sepkit.reading.subject import Subject

MOST_PX_PER_MM = 9.0
LOOK_PX_PER_MM = 2.0
LEAST_EDGE_MM = 20.0
"""Less than this much visible edge of the art tells no register. Check discs need none."""
ART_SLACK_MM, ART_TILES, ART_ROUNDS = 0.01, 300, 3
"""Where the art's edges tell: how far a tile lies beside the smooth field, how many there are, and rounds once it is
known how stiff the cloth is."""
MOST_BAND_MM = 0.12
"""A wider band is no figure."""
SIGMAS, LEAST_BAND_MM = 2.5, 0.02
"""The band told: so many standard deviations of the jackknife, and what the method leaves at best."""
ART_SIGMAS, ART_LEAST_BAND_MM, DISCS_EDGE_MM = 3.5, 0.04, 400.0
"""The same of a screen whose discs were not read beside others' that were, and the edge that it needs to be told."""
LEAST_GROWTH_BAND_MM = 0.02
"""The band of a growth that all tiles agree on: ragged edges and the colours of blurred ones are the same for all."""
APART_MM = 0.25
"""Two starts that end farther apart do not agree."""
START_REACH_MM, START_STEP_MM = 1.2, 0.4
ART_LOOSE_MM = 0.2
"""How far a tile of the art may put a screen elsewhere than its check discs do: traps and bases hide edges there."""
STRAINED_MM = 0.03
"""The same of screens that the art tells: cloth is stretched between edges in a tile."""
STILL = 0.12
"""A level is done when no screen moves by more than this share of its blur: an edge that lies off by more than the blur
is pulled a part of the way in each round."""
PULLED = 0.8
"""The same of nine of ten of the cloth's knots: those at the border, which no tile holds, go on."""
PULLED_HELD = 0.2
"""The same while screens are held: the cloth is all that such a level is for."""
BACK = 0.5
"""A step that goes back where the last one came from is shortened: growth and blur swing about each other."""
LEAST_DISCS = 3
SHARPEST = 0.25
"""Blur is that of this share of the tiles, the sharpest: JPEG keeps colour at half the pixels, so that edges of inks
as light as each other look blurred in a sharp photograph."""
STRAYS, FOLDED = 0.1, 0.05
"""With a larger share of tiles whose edges stray the cloth is tried as folded: this share of its stiffness."""
MISFIT = 0.2
"""Residual over contrast from which on a tile's edges do not lie as fitted. With 0.1 pale inks under a lamp were called
folds: yellow on white is 0.1 to 0.17 where it lies as fitted."""


@dataclass(frozen=True, slots=True)
class ReadScreen:
    """One screen as read, against the reference screen; ``why`` is empty where its register is told."""

    name: str
    fit: ScreenFit
    at_mm: tuple[float, float]
    """Where its shift is told, mm on the film: the art's middle by discs, else the middle of its edges that show."""
    dx_mm: float
    dy_mm: float
    """How far right and down it lies there."""
    band_mm: float
    turn_band: float
    """Radians."""
    growth_band_mm: float
    edge_mm: float
    """Length of its edges that can be seen, contrast weighed."""
    discs: int = 0
    """How many of its check discs were read."""
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A photograph laid on its films."""

    state: State
    screens: tuple[ReadScreen, ...]
    px_per_mm: float
    blur_px2: float
    """Blur beyond what a sharp photograph has, half its variance in photo pixels."""
    misfit: float
    """Share of tiles that the fit does not explain."""
    strayed: float
    """Share of tiles whose edges lie elsewhere than fitted; NaN where no tile shows an edge."""


@dataclass(frozen=True, slots=True)
class _Level:
    """One round of the fit."""

    px_per_mm: float
    tile_mm: float
    blur_mm: float
    rounds: int
    pitch_mm: float
    slack_mm: float
    tiles: int
    cloth: Cloth
    held: bool = False
    """Whether screens keep their places, and all edges tell the cloth."""


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What came of one screen."""

    band: Band
    place: F64
    """Where its shift is told, mm on the film."""
    edge_mm: float
    discs: int
    agree: bool
    """Whether two starts end at one place."""


def fitted(subject: Subject, photo: Photo, place: Place) -> Fit:
    """Return the fit of a photograph that was found: cloth taken as smooth, and where edges then stray, as folded."""
    smooth = _fitted(subject, photo, place, Cloth())
    if not smooth.strayed > STRAYS:
        return smooth
    folded = _fitted(subject, photo, place, Cloth(stiff=FOLDED), smooth.state.reference)
    return folded if folded.strayed < smooth.strayed else smooth


def _fitted(subject: Subject, photo: Photo, place: Place, cloth: Cloth, reference: int | None = None) -> Fit:
    side = max(subject.width_mm, subject.height_mm)
    warp = Warp.straight(place.homography, subject, max(20.0, side / 7), photo.size)
    px_per_mm = warp.px_per_mm(subject.middle)
    screens = (ScreenFit(),) * subject.count
    state = State(warp, screens, _look(subject, photo, warp, screens))
    first = reference_screen(subject, seen_edges(subject, state)) if reference is None else reference
    state = replace(state, reference=first)
    state = replace(state, still=hidden_screens(subject, state))
    coarse = _Level(3.0, 12.0, 0.4, 6, max(20.0, side / 7), 0.15, 50, cloth)
    agree = [True] * subject.count
    if subject.discs:  # nothing hides them: one start will do
        state, _ = _levelled(subject, photo, state, coarse)
    else:
        one, _ = _levelled(subject, photo, state, coarse)
        other, _ = _levelled(subject, photo, replace(state, screens=_start(subject, photo, state)), coarse)
        state, agree = _better(subject, photo, one, other)
    state = replace(state, look=_look(subject, photo, state.warp, state.screens, state))
    pitch = 9.0 if side < 130 else 13.0
    sharp = max(0.075, 0.75 / px_per_mm)
    finest = _Level(min(MOST_PX_PER_MM, max(6.0, px_per_mm)), 7.0, sharp, 4, pitch, 0.06, 80, cloth)
    if not subject.discs:
        finest = replace(finest, slack_mm=ART_SLACK_MM, tiles=ART_TILES)
    state, _ = _levelled(subject, photo, state, _Level(5.0, 8.0, 0.18, 4, pitch, 0.12, 100, cloth))
    state, equations = _levelled(subject, photo, state, finest)
    if not subject.discs:
        known = likeliest(subject, state, equations, slack_mm=ART_SLACK_MM)
        state, equations = _levelled(subject, photo, state, replace(finest, cloth=known, rounds=ART_ROUNDS))
        finest = replace(finest, cloth=likeliest(subject, state, equations, slack_mm=ART_SLACK_MM))
    system = _system(subject, state, equations, finest)
    system.step()
    discs = [_discs_read(equations, subject, k) for k in range(subject.count)]
    if discs[state.reference] >= LEAST_DISCS:  # register is told: now all edges tell the cloth
        state, equations = _levelled(subject, photo, state, replace(finest, held=True))
    state = replace(state, look=_look(subject, photo, state.warp, state.screens, state))
    edges = seen_edges(subject, state)
    if not subject.discs and reference is None and (shown := reference_screen(subject, edges)) != state.reference:
        return _fitted(subject, photo, place, cloth, shown)  # as planned it would have shown, as printed another does
    places = np.broadcast_to(subject.middle, edges.middle.shape) if subject.discs else edges.middle
    seen = [
        _Seen(band, places[k], float(edges.mm[k]), discs[k], agree[k]) for k, band in enumerate(system.bands(places))
    ]
    read = [_read(subject, state, k, one) for k, one in enumerate(seen)]
    blur = float(np.quantile([one.blur_px2 for one in equations], SHARPEST)) if equations else 9.9
    misfit = float(np.mean([one.misfit > MISFIT for one in equations])) if equations else 1.0
    blurred = blur * (px_per_mm / finest.px_per_mm) ** 2
    return Fit(state, tuple(read), px_per_mm, blurred, misfit, strayed(subject, photo, state))


def _levelled(subject: Subject, photo: Photo, state: State, level: _Level) -> tuple[State, list[Equation]]:
    """Run the rounds of one level; return the state and the last equations."""
    if level.pitch_mm < state.warp.pitch_mm - 0.1:
        state = replace(state, warp=state.warp.finer(subject, level.pitch_mm))
    tiles = [*choose_tiles(subject, side_mm=level.tile_mm, most=level.tiles), *disc_tiles(subject)]
    equations: list[Equation] = []
    before: F64 | None = None
    own, cloth = slice(4 * subject.count), slice(4 * subject.count, None)
    for _ in range(level.rounds):
        equations = _equations(subject, photo, state, tiles, level)
        system = _system(subject, state, equations, level)
        step = system.step()
        if before is not None and float(step[own] @ before[own]) < 0:
            step *= BACK
        before = step
        state = system.after(step)
        learnt = learnt_colours(state, equations, SEEN_ALONE)
        if learnt:
            colours = state.look.colours.copy()
            for stack, colour in learnt.items():
                colours[stack] = colour
            state = replace(state, look=replace(state.look, colours=colours))
        moved, pulled = np.abs(step[: 3 * subject.count]).max(), np.quantile(np.abs(step[cloth]), 0.9)
        if moved < STILL * level.blur_mm and pulled < (PULLED_HELD if level.held else PULLED) * level.blur_mm:
            break
    return state, equations


def _equations(subject: Subject, photo: Photo, state: State, tiles: Sequence[Tile], level: _Level) -> list[Equation]:
    found = [equation(subject, photo, state, tile, level.px_per_mm, level.blur_mm) for tile in tiles]
    return [one for one in found if one is not None]


def _system(subject: Subject, state: State, equations: Sequence[Equation], level: _Level) -> System:
    """Return the equations joined: where films carry check discs these tell register, else the art's ragged edges."""
    used = (
        _by_discs(subject, state, equations, held=level.held)
        if subject.discs
        else ragged_edges(equations, level.cloth.ragged_mm)
    )
    return System(subject, state, used, slack_mm=level.slack_mm, stiff=level.cloth.stiff, held=level.held)


def _by_discs(subject: Subject, state: State, equations: Sequence[Equation], *, held: bool) -> list[Equation]:
    """Return the equations with the art's own edges saying little of screens whose discs were read.

    In a tile of the art such a screen may lie ART_LOOSE_MM elsewhere, others, and all that are held where their discs
    lie, STRAINED_MM; that is integrated out, so that the tile still tells the cloth, and growths, by all that hangs
    together in it. With discs the reference's own edges, which inks on a base hide, are taken no better than others'.
    """
    read = [_discs_read(equations, subject, k) >= LEAST_DISCS for k in range(subject.count)]
    by_discs = read[state.reference]
    screens = [k for k in range(subject.count) if by_discs or k != state.reference]
    far = [ART_LOOSE_MM if by_discs and read[k] and not held else STRAINED_MM for k in screens]
    loose = [3 * k + way for k in screens for way in (0, 1)]
    return [
        one if one.tile.disc is not None or not loose else loosened(one, loose, np.repeat(far, 2)) for one in equations
    ]


def _discs_read(equations: Sequence[Equation], subject: Subject, screen: int) -> int:
    return sum(
        one.tile.disc is not None
        and subject.discs[one.tile.disc].plate == screen
        and one.normal[3 * screen, 3 * screen] > LEAST_INFORMATION
        for one in equations
    )


LEAST_INFORMATION = 1 / 0.06**2
"""A disc that tells its screen's place no better than 0.06 mm is not read."""


def _look(subject: Subject, photo: Photo, warp: Warp, screens: Sequence[ScreenFit], state: State | None = None) -> Look:
    grid = subject.whole(LOOK_PX_PER_MM)
    planes = coverages(subject, screens, grid)
    seen = photo.sample(warp.over(grid), warp.px_per_mm(subject.middle) / LOOK_PX_PER_MM)
    return look_of(subject, grid, planes, seen, None if state is None else state.look)


def _start(subject: Subject, photo: Photo, state: State) -> tuple[ScreenFit, ...]:
    """Return each screen moved to where it explains the photograph best, on a coarse lattice of shifts."""
    from scipy.ndimage import gaussian_filter

    r = 2.0
    grid = subject.whole(r)
    seen = lit(photo, state.warp, state.look, subject, grid)
    valid = np.isfinite(seen[..., 0]) & ~subject.tones(grid)
    seen = encoded(np.where(valid[..., None], seen, 0))
    points = np.meshgrid(grid.xs, grid.ys)
    steps = np.arange(-START_REACH_MM, START_REACH_MM + 0.01, START_STEP_MM)
    planes = coverages(subject, state.screens, grid)
    out = list(state.screens)
    for k in range(subject.count):
        if k == state.reference:
            continue
        best = (np.inf, 0.0, 0.0)
        for dx in steps:
            for dy in steps:
                moved = ScreenFit(float(dx), float(dy), 0.0, state.screens[k].growth_mm)
                trial = [*planes]
                trial[k] = covered(subject, k, moved, *points, r)
                model = encoded(gaussian_filter(mixed(trial, state.look.colours), (0.4, 0.4, 0)))
                off = float(np.minimum(np.abs(seen - model), 0.15)[valid].sum())
                best = min(best, (off, float(dx), float(dy)))
        out[k] = ScreenFit(best[1], best[2], 0.0, state.screens[k].growth_mm)
    return tuple(out)


def _better(subject: Subject, photo: Photo, one: State, other: State) -> tuple[State, list[bool]]:
    """Return the state that explains the photograph better, and for each screen whether both say the same."""
    agree = [
        float(np.hypot(a.dx_mm - b.dx_mm, a.dy_mm - b.dy_mm)) < APART_MM
        for a, b in zip(one.screens, other.screens, strict=True)
    ]
    if all(agree):
        return one, agree
    return (one if _off(subject, photo, one) <= _off(subject, photo, other) else other), agree


def _off(subject: Subject, photo: Photo, state: State) -> float:
    from scipy.ndimage import gaussian_filter

    grid = subject.whole(3.0)
    seen = lit(photo, state.warp, state.look, subject, grid)
    valid = np.isfinite(seen[..., 0]) & ~subject.tones(grid)
    model = gaussian_filter(mixed(coverages(subject, state.screens, grid), state.look.colours), (0.4, 0.4, 0))
    off = np.abs(encoded(np.where(valid[..., None], seen, 0)) - encoded(model))
    return float(np.minimum(off, 0.15)[valid].mean())


def _read(subject: Subject, state: State, k: int, seen: _Seen) -> ReadScreen:
    fit, band, place = state.screens[k], seen.band, seen.place
    sigmas, least = SIGMAS, LEAST_BAND_MM
    if subject.discs and seen.discs < LEAST_DISCS:
        sigmas, least = ART_SIGMAS, ART_LEAST_BAND_MM
    told = sigmas * band.shift_mm + least
    why = ""
    if k == state.reference:
        told = 0.0
    elif k in state.still:
        why = "nothing of it shows on what it prints on"
    elif seen.discs < LEAST_DISCS:
        if seen.edge_mm < (DISCS_EDGE_MM if subject.discs else LEAST_EDGE_MM):
            why = "too few of its edges show"
        elif not seen.agree:
            why = "its edges fit in two places"
    if not why and told > MOST_BAND_MM:
        why = f"its place stays open by more than {MOST_BAND_MM:g} mm"
    dx, dy = printed_at(subject, fit, place) - place
    return ReadScreen(
        subject.names[k],
        fit,
        (float(place[0]), float(place[1])),
        float(dx),
        float(dy),
        told,
        SIGMAS * band.turn,
        UNKNOWN if k in state.still else SIGMAS * band.growth_mm + LEAST_GROWTH_BAND_MM,
        seen.edge_mm,
        seen.discs,
        why,
    )
