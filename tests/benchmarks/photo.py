"""Photographs of test prints and of the wedge read, against exact truth (simulated): register, spots, growth, refusals.

    python -m tests.benchmarks photo                 # 3 designs x 2 photographs, the wedge once, bad photographs
    python -m tests.benchmarks photo --each 10       # more of each design; half flat, half by lamp light
    python -m tests.benchmarks photo --only wedge    # or prints, plain (without check discs), bad
    python -m tests.benchmarks photo --seed 9000     # other photographs

Seeds from 7000 on were never looked at while limits were chosen. Nothing here is a real photograph.
"""

from __future__ import annotations

import argparse
import io
import resource
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from PIL import Image

from sepkit.errors import PhotoError
from sepkit.files.folders.print_folder import read_print_folder
from sepkit.files.shelf.shelf import Shelf
from sepkit.film.wedge import WedgeSettings, wedge_tests
from sepkit.press.wedge_reading import WedgeReading, edge_growth
from sepkit.reading.find import find
from sepkit.reading.gates import check_fit, check_place, check_size
from sepkit.reading.picture import Photo
from sepkit.reading.screens import Fit, fitted
from sepkit.reading.spots import find_spots
from sepkit.workshop.photo.subject import subject_of_folder
from tests.helpers.photographs import Photograph, random_shot, take_photo
from tests.helpers.printed_cloth import FILM_PX_MM, printed_folder, printed_wedge
from tests.helpers.small_prints import small_folder

FIRST_SEED = 7000
LANTERN = """<circle cx="50" cy="50" r="44" fill="#0f6e6e"/><circle cx="50" cy="50" r="36" fill="#f2c14e"/>
<path d="M24 66 L50 20 L76 66 Z" fill="#b3202c"/><circle cx="50" cy="47" r="8" fill="#ffffff"/>"""
OARS = """<path d="M10 20 L80 90 L90 80 L20 10 Z" fill="#1d3c78"/>
<path d="M90 20 L20 90 L10 80 L80 10 Z" fill="#d8432b"/><circle cx="50" cy="50" r="14" fill="#f2c14e"/>
<path d="M8 96 h70" stroke="#1d3c78" stroke-width="0.5"/>"""
CLUB = """<rect x="8" y="12" width="84" height="60" rx="8" fill="#ffffff"/>
<rect x="14" y="18" width="40" height="48" fill="#c8102e"/>
<path d="M60 22 h26 v8 h-26 z M60 36 h26 v8 h-26 z M60 50 h14 v8 h-14 z" fill="#c8102e"/>"""
DESIGNS = {"lantern": ("black tee", LANTERN), "oars": ("white tee", OARS), "club": ("black tee", CLUB)}


@dataclass
class Tally:
    """What a set of photographs came to."""

    register: list = field(default_factory=list)  # (error mm, band mm)
    turns: list = field(default_factory=list)
    growths: list = field(default_factory=list)
    places: list = field(default_factory=list)
    spots: dict = field(default_factory=dict)  # size -> (found, of)
    right: list = field(default_factory=list)
    spot_places: list = field(default_factory=list)
    false: list = field(default_factory=list)
    untold: int = 0
    refused: list = field(default_factory=list)
    seconds: list = field(default_factory=list)


def main(args: list[str]) -> None:
    """Run the sets that are asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks photo")
    parser.add_argument("--each", type=int, default=2, help="photographs of each design")
    parser.add_argument("--seed", type=int, default=FIRST_SEED)
    parser.add_argument("--px", type=float, default=10.0, help="pixels for each mm")
    parser.add_argument("--width", type=float, default=100.0, help="width of the designs in mm")
    parser.add_argument("--only", choices=["prints", "plain", "wedge", "bad"])
    given = parser.parse_args(args)
    with tempfile.TemporaryDirectory() as scratch:
        if given.only in (None, "prints"):
            _prints(Path(scratch), given, discs=True)
        if given.only in (None, "plain"):
            _prints(Path(scratch), given, discs=False)
        if given.only in (None, "bad"):
            _bad(Path(scratch), given)
        if given.only in (None, "wedge"):
            _wedge(given)
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB (simulator included)")


def _folder(scratch: Path, name: str, width: float, discs: bool) -> Path:
    from sepkit.workshop.print.options import PrintOptions
    from sepkit.workshop.print.write import make_prints

    garment, drawn = DESIGNS[name]
    art = scratch / f"{name}.svg"
    art.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">{drawn}</svg>')
    folder = scratch / f"{name}-{'discs' if discs else 'plain'}"
    options = PrintOptions(art, garment, width_mm=width, check_discs=discs, ladder=False, film_dpi=300.0)
    make_prints([options], folder, force=True)
    return folder


def _photo(taken: Photograph) -> Photo:
    with Image.open(io.BytesIO(taken.jpeg)) as image:
        return Photo(np.asarray(image.convert("RGB")))


def _prints(scratch: Path, given: argparse.Namespace, *, discs: bool) -> None:
    sets: dict[str, Tally] = {"flat": Tally(), "lamp light": Tally()}
    print(f"prints {'with' if discs else 'without'} check discs, {given.px:g} px/mm, {given.width:g} mm")
    for number, name in enumerate(DESIGNS):
        folder = _folder(scratch, name, given.width, discs)
        printed, subject = printed_folder(folder), subject_of_folder(read_print_folder(folder))
        for nth in range(given.each):
            flat = nth % 2 == 0
            seed = given.seed + 100 * number + nth + (50 if discs else 0)
            shot = random_shot(printed, seed, px_per_mm=given.px, flat=flat)
            taken = take_photo(printed, shot)
            tally = sets["flat" if flat else "lamp light"]
            start = time.process_time()
            try:
                fit, spots = _read(subject, _photo(taken))
            except PhotoError as error:
                tally.refused.append(str(error))
                print(f"  {name} {seed}: refused: {error}", flush=True)
                continue
            tally.seconds.append(time.process_time() - start)
            _count(tally, subject, fit, spots, taken)
            print(f"  {name} {seed} {'flat' if flat else 'lamp'}: {_line(fit, taken)}", flush=True)
    for name, tally in sets.items():
        print(f" {name}:")
        for line in _summary(tally):
            print(f"   {line}")


def _read(subject, photo):
    place = check_place(find(subject, photo), where="", what="this print")
    check_size(subject, photo, place, where="")
    fit = fitted(subject, photo, place)
    check_fit(subject, fit, where="")
    return fit, find_spots(subject, photo, fit)


def _errors(fit: Fit, taken: Photograph) -> Iterator[tuple[int, float, float]]:
    for k, read in enumerate(fit.screens):
        if k != fit.state.reference and not read.why:
            dx, dy, turn = taken.geometry.relative(k, fit.state.reference)
            yield (
                k,
                float(np.hypot(read.fit.dx_mm - dx, read.fit.dy_mm - dy)),
                float(abs(np.degrees(read.fit.turn) - turn)),
            )


def _line(fit: Fit, taken: Photograph) -> str:
    errors = ", ".join(
        f"{fit.screens[k].name} {off:.3f} (± {fit.screens[k].band_mm:.3f})" for k, off, _ in _errors(fit, taken)
    )
    untold = ", ".join(f"{s.name}: {s.why}" for s in fit.screens if s.why)
    return f"register {errors}{'; untold ' + untold if untold else ''}"


def _count(tally: Tally, subject, fit: Fit, found, taken: Photograph) -> None:
    for k, off, turn in _errors(fit, taken):
        tally.register.append((off, fit.screens[k].band_mm))
        tally.turns.append(turn)
    tally.untold += sum(bool(screen.why) for screen in fit.screens)
    for read, truth in zip(fit.screens, taken.shot.screens, strict=True):
        if read.growth_band_mm < 0.03:
            tally.growths.append(1000 * abs(read.fit.growth_mm - truth.growth_mm))
    tally.places.append(_place_errors(subject, fit, taken))
    todo = list(taken.shot.spots)
    false = 0
    for spot in found.spots:
        near = [(np.hypot(spot.x_mm - d.x_mm, spot.y_mm - d.y_mm), i) for i, d in enumerate(todo)]
        far, at = min(near, default=(9.9, -1))
        if at >= 0 and far < 0.8 + todo[at].size_mm / 2:
            truth = todo.pop(at)
            hit, of = tally.spots.get(truth.size_mm, (0, 0))
            tally.spots[truth.size_mm] = (hit + 1, of + 1)
            tally.right.append((spot.kind, spot.screen) == (truth.kind, truth.plate))
            tally.spot_places.append(far)
        else:
            false += spot.sure
    for missed in todo:
        hit, of = tally.spots.get(missed.size_mm, (0, 0))
        tally.spots[missed.size_mm] = (hit, of + 1)
    tally.false.append(false)


def _place_errors(subject, fit: Fit, taken: Photograph):
    """Distances in mm between where the reference screen's ink lies and where the fit puts it."""
    reference = fit.state.reference
    grid = subject.whole(1.0, 0.0)
    points = np.stack(np.meshgrid(grid.xs, grid.ys), -1).reshape(-1, 2)
    inked = subject.distance(reference, points[:, 0], points[:, 1]) < 0
    points = points[inked]
    true = taken.geometry.to_photo(taken.geometry.printed(reference, points))
    return np.hypot(*(fit.state.warp(points) - true).T) / fit.px_per_mm


def _summary(tally: Tally) -> Iterator[str]:
    if tally.refused:
        yield f"refused: {len(tally.refused)}"
    if tally.register:
        off, band = np.array(tally.register).T
        turn = np.quantile(tally.turns, 0.9)
        yield (
            f"register: {len(off)} screens told, {tally.untold} not; p90 {np.quantile(off, 0.9):.3f}, worst "
            f"{off.max():.3f} mm; within the band {np.mean(off <= band):.0%}; turn p90 {turn:.3f}°"
        )
    if tally.growths:
        yield f"growth: median {np.median(tally.growths):.0f}, p90 {np.quantile(tally.growths, 0.9):.0f} µm"
    if tally.places:
        every = np.concatenate(tally.places)
        good = np.mean([np.quantile(p, 0.95) <= 0.15 for p in tally.places])
        yield f"place: median {np.median(every):.3f}, p95 {np.quantile(every, 0.95):.3f} mm; p95 <= 0.15 on {good:.0%}"
    if tally.spots:
        sizes = ", ".join(f"{size:g} mm {hit}/{of}" for size, (hit, of) in sorted(tally.spots.items()))
        yield f"spots: {sizes}; false and sure: mean {np.mean(tally.false):.1f}, most {max(tally.false)}"
    if tally.right:
        far = np.quantile(tally.spot_places, 0.95)
        yield f"screen and kind right {np.mean(tally.right):.0%}; place of a spot p95 {far:.2f} mm"
    if tally.seconds:
        yield f"processor: mean {np.mean(tally.seconds):.0f} s a photograph"


def _bad(scratch: Path, given: argparse.Namespace) -> None:
    """Photographs that must be refused, and the reason each is refused for."""
    folder = small_folder(scratch / "small")
    other = subject_of_folder(read_print_folder(small_folder(scratch / "other", turned=True, discs=False)))
    printed, subject = printed_folder(folder), subject_of_folder(read_print_folder(folder))
    ways = {
        "blurred": {"blur_px": 4.5},
        "glare": {"glare": 2.5},
        "from aside": {"tilt_deg": (38.0, 12.0)},
        "folds": {"folds": 4, "fold_mm": 4.0},
        "cut off": {"aside": (0.3, 0.1)},
        "3 px/mm": {"px_per_mm": 3.0},
        "sound": {},
        "another print": {},
    }
    print("photographs to refuse (the sound ones not)")
    for kind, changed in ways.items():
        told = []
        for nth in range(max(1, given.each)):
            shot = random_shot(printed, given.seed + 900 + nth, px_per_mm=given.px, sizes=())
            taken = take_photo(printed, replace(shot, **changed))
            try:
                _read(other if kind == "another print" else subject, _photo(taken))
                told.append("taken")
            except PhotoError as error:
                told.append(error.text)
        print(f"   {kind}: {'; '.join(told)}", flush=True)


def _wedge(given: argparse.Namespace) -> None:
    from sepkit.reading.wedge import read_wedge
    from sepkit.workshop.photo.wedge import wedge_subject

    shelf, settings = Shelf(), WedgeSettings()
    inks = [shelf.ink("black"), shelf.ink("red")]
    printed = printed_wedge(settings, inks, shelf.garment("white tee").reflectance)
    subject, tests = wedge_subject(settings), wedge_tests(settings)
    print("wedge by photograph, 8 px/mm")
    for nth in range(max(1, given.each // 2)):
        seed = given.seed + 800 + nth
        rng = np.random.default_rng(seed)
        shot = random_shot(printed, seed, px_per_mm=8.0, sizes=())
        growth, broken = float(rng.uniform(0.01, 0.1)), float(rng.choice([0.12, 0.17, 0.22, 0.27]))
        shot = replace(shot, broken_mm=broken, around=1.15)
        for screen in shot.screens:
            screen.growth_mm = growth
        photo = _photo(take_photo(printed, shot))
        start = time.process_time()
        fit = fitted(subject, photo, check_place(find(subject, photo), where="", what="the wedge"))
        read = read_wedge(subject, photo, fit, tests)
        seconds = time.process_time() - start
        off = [
            100 * (t.printed - _true_tint(printed, test, growth)) for t, test in zip(read.tones, tests[:], strict=False)
        ]
        edge, _ = edge_growth(WedgeReading(tones=tuple((t.lpi, t.asked, t.printed) for t in read.tones)))
        second, truth = fit.screens[1], shot.screens[1]
        miss = np.hypot(second.fit.dx_mm - truth.dx_mm, second.fit.dy_mm - truth.dy_mm)
        print(
            f"   {seed}: tones off {np.mean(np.abs(off)):.1f}, worst {np.max(np.abs(off)):.1f} points; growth "
            f"{edge:.0f} for {1000 * growth:.0f} µm; register off {miss:.3f} (± {second.band_mm:.3f}) mm; "
            f"thinnest line {read.thinnest_line_mm}, lines up to {broken:g} broken; {seconds:.0f} s",
            flush=True,
        )


def _true_tint(printed, test, growth: float) -> float:
    x0, x1 = (int((v) * FILM_PX_MM) for v in (test.x_mm + 1.5, test.x_mm + test.width_mm - 1.5))
    y0, y1 = (int((v) * FILM_PX_MM) for v in (test.y_mm + 1.5, test.y_mm + test.height_mm - 1.5))
    far = printed.films[0][y0:y1, x0:x1].astype(np.float32) - growth
    return float(np.clip(0.5 - far * FILM_PX_MM, 0, 1).mean())
