"""One photograph read and scored against its exact truth, as a record; tables of many records.

A record is one JSON object: which print and photograph, why it was refused or what was read of it.
"""

from __future__ import annotations

import io
import time
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from PIL import Image
from scipy.ndimage import find_objects, label

from sepkit.errors import PhotoError
from sepkit.reading.edges import thin_lines
from sepkit.reading.find import find
from sepkit.reading.gates import check_fit, check_place, check_size
from sepkit.reading.picture import Photo
from sepkit.reading.screens import Fit, fitted
from sepkit.reading.spots import find_spots
from sepkit.reading.told import told_screens
from tests.helpers.photographs import Photograph, film_with_breaks
from tests.helpers.printed_cloth import FILM_PX_MM

Record = dict[str, Any]
NEAR_MM = 1.0
"""A gap is found, and one told is real, within this much."""


def laid(subject, photo) -> Fit:
    """Lay a photograph on its films as the command does; raises PhotoError."""
    place = check_place(find(subject, photo), where="", what="this print")
    check_size(subject, photo, place, where="")
    fit = fitted(subject, photo, place)
    check_fit(subject, fit, where="")
    return fit


def picture(taken: Photograph) -> Photo:
    """Return a simulated photograph as a reader sees it."""
    with Image.open(io.BytesIO(taken.jpeg)) as image:
        return Photo(np.asarray(image.convert("RGB")))


def scored(subject, printed, taken: Photograph) -> Record:
    """Return what came of one photograph."""
    photo = picture(taken)
    start = time.process_time()
    try:
        fit = laid(subject, photo)
        spots = find_spots(subject, photo, fit)
        lines = thin_lines(subject, photo, fit)
    except PhotoError as error:
        return {"refused": error.text, "seconds": time.process_time() - start}
    seconds = time.process_time() - start
    return {
        "seconds": round(seconds, 1),
        "px": photo.size,
        "screens": list(_screens(fit, taken)),
        "place": _place(subject, fit, taken),
        "spots": _spots(spots, taken),
        "lines": _lines(lines, printed, taken),
        "doubtful": round(spots.doubtful, 3),
        "misfit": round(fit.misfit, 3),
        "strayed": round(fit.strayed, 3),
        "blur": round(fit.blur_px2, 3),
    }


def _screens(fit: Fit, taken: Photograph) -> Iterator[Record]:
    reference = fit.state.reference
    for k, (one, told) in enumerate(zip(fit.screens, told_screens([fit]), strict=True)):
        if k == reference:
            off = turn = None
        else:
            dx, dy, angle = taken.geometry.relative(k, reference, np.array(one.at_mm))
            off = round(float(np.hypot(one.dx_mm - dx, one.dy_mm - dy)), 4)
            turn = round(float(abs(np.degrees(one.fit.turn) - angle)), 4)
        yield {
            "name": one.name,
            "off": off,
            "band": round(one.band_mm, 4),
            "why": one.why,
            "turn": turn,
            "turn_band": round(float(np.degrees(one.turn_band)), 4),
            "turn_told": told.turn_deg is not None,
            "edge": round(one.edge_mm),
            "discs": one.discs,
            "growth": round(1000 * (one.fit.growth_mm - taken.shot.screens[k].growth_mm), 1),
            "growth_band": round(1000 * one.growth_band_mm, 1),
            "growth_told": told.growth_mm is not None,
        }


def _place(subject, fit: Fit, taken: Photograph) -> list[float]:
    """Median, 95 and 100 of 100 of the distances in mm between where the reference's ink lies and is put."""
    reference = fit.state.reference
    grid = subject.whole(1.0, 0.0)
    points = np.stack(np.meshgrid(grid.xs, grid.ys), -1).reshape(-1, 2)
    points = points[subject.distance(reference, points[:, 0], points[:, 1]) < 0]
    true = taken.geometry.to_photo(taken.geometry.printed(reference, points))
    far = np.hypot(*(fit.state.warp(points) - true).T) / fit.px_per_mm
    return [round(float(q), 3) for q in np.quantile(far, (0.5, 0.95, 1))]


def _spots(found, taken: Photograph) -> Record:
    todo = list(taken.shot.spots)
    hits: list[tuple[float, bool, float]] = []
    false = []
    for spot in found.spots:
        near = [(np.hypot(spot.x_mm - d.x_mm, spot.y_mm - d.y_mm), i) for i, d in enumerate(todo)]
        far, at = min(near, default=(9.9, -1))
        if at >= 0 and far < 0.8 + todo[at].size_mm / 2:
            truth = todo.pop(at)
            right = (spot.kind, spot.screen) == (truth.kind, truth.plate)
            hits.append((truth.size_mm, bool(right), round(float(far), 2)))
        elif spot.sure:
            false.append(
                (spot.kind, int(spot.screen), *(round(float(v), 2) for v in (spot.x_mm, spot.y_mm, spot.size_mm)))
            )
    missed = [(d.size_mm, d.kind, int(d.plate), round(d.x_mm, 1), round(d.y_mm, 1)) for d in todo]
    return {"hits": hits, "missed": missed, "false": false}


LOST_MM2 = 0.2
"""Gaps of this much film and more are to be found."""


def _lines(lines, printed, taken: Photograph) -> Record:
    """Gaps of thin lines: those of the films (480 dpi, breaks as printed), which were found, which told are real."""
    found, of, real = 0, 0, 0
    told = np.array([(one.screen, one.x_mm, one.y_mm) for one in lines.lost]).reshape(-1, 3)
    for k, film in enumerate(printed.films):
        mine = told[told[:, 0] == k, 1:]
        far = film.astype(np.float32)
        gone = (far < 0) & (film_with_breaks(far, taken.shot, k) > 0) if taken.shot.broken_mm else np.zeros_like(far)
        labels = label(gone, structure=np.ones((3, 3)))[0]
        near = np.zeros(len(mine), bool)
        for nth, box in enumerate(find_objects(labels), 1):
            ys, xs = np.nonzero(labels[box] == nth)
            x, y = (
                (v + part.start + 0.5) / FILM_PX_MM - printed.margin_mm
                for v, part in zip((xs, ys), box[::-1], strict=True)
            )
            close = np.array([np.hypot(x - a, y - b).min() < NEAR_MM for a, b in mine], bool)
            near |= close
            if len(xs) >= LOST_MM2 * FILM_PX_MM**2:
                found, of = found + bool(close.any()), of + 1
        real += int(near.sum())
    return {"found": found, "of": of, "real": real, "told": len(told)}


def summary(records: Sequence[Record]) -> Iterator[str]:
    """Yield the lines of a table."""
    good = [one for one in records if "refused" not in one]
    yield f"{len(records)} photographs, {len(records) - len(good)} refused"
    for one in records:
        if "refused" in one:
            yield f"  refused: {one['design']} {one['seed']}: {one['refused']}"
    if not good:
        return
    yield from _register([screen for one in good for screen in one["screens"]])
    places = np.array([one["place"] for one in good])
    by_design: dict[str, list[float]] = {}
    for one in good:
        by_design.setdefault(one["design"], []).append(one["place"][1])
    fine = sum(float(np.median(v)) <= 0.15 for v in by_design.values())
    yield (
        f"place: median {np.median(places[:, 0]):.3f}; p95 of a photograph: median {np.median(places[:, 1]):.3f}, "
        f"worst {places[:, 1].max():.2f} mm; p95 <= .15 (median of its photographs) on {fine} of {len(by_design)}"
    )
    yield from _spot_lines(good)
    gaps = {key: sum(one["lines"][key] for one in good if "lines" in one) for key in ("found", "of", "real", "told")}
    if gaps["of"] or gaps["told"]:
        yield "gaps of lines, 0.2 mm² and more: {found} of {of} found; of {told} told {real} are real".format(**gaps)
    yield f"processor: mean {np.mean([one['seconds'] for one in good]):.1f} s, most {max(o['seconds'] for o in good)}"


def _register(screens: Sequence[Record]) -> Iterator[str]:
    others = [s for s in screens if s["off"] is not None]
    told = [s for s in others if not s["why"]]
    if told:
        off, band = (np.array([s[key] for s in told]) for key in ("off", "band"))
        yield (
            f"register: {len(told)} screens told, {len(others) - len(told)} not; median {np.median(off):.3f}, p90 "
            f"{np.quantile(off, 0.9):.3f}, worst {off.max():.3f} mm; within the band {(off <= band).sum()} of "
            f"{len(told)} ({np.mean(off <= band):.0%}); band median {np.median(band):.3f}"
        )
        turn = [(s["turn"], s["turn_band"]) for s in told if s["turn_told"]]
        if turn:
            t, b = np.array(turn).T
            inside = np.mean(t <= b)
            words = f"p90 {np.quantile(t, 0.9):.4f}, worst {t.max():.3f}°; within the band {inside:.0%}"
            yield f"turn: {len(t)} told, {words}"
    well = [s for s in others if s["edge"] >= 500]
    if well:
        yield f"well-seen screens (500 mm of edge and more) untold: {sum(bool(s['why']) for s in well)} of {len(well)}"
    reasons = sorted({s["why"] for s in others if s["why"]})
    for why in reasons:
        yield f"  untold {sum(s['why'] == why for s in others)}: {why}"
    grown = [(abs(s["growth"]), s["growth_band"]) for s in screens if s["growth_told"]]
    if grown:
        g, b = np.array(grown).T
        yield (
            f"growth: {len(g)} of {len(screens)} told, median {np.median(g):.0f}, p90 {np.quantile(g, 0.9):.0f}, worst "
            f"{g.max():.0f} µm; within the band {np.mean(g <= b):.0%}"
        )


def _spot_lines(good: Sequence[Record]) -> Iterator[str]:
    hits = [hit for one in good for hit in one["spots"]["hits"]]
    sizes = sorted({h[0] for h in hits} | {m[0] for one in good for m in one["spots"]["missed"]})
    words = []
    for size in sizes:
        got = sum(h[0] == size for h in hits)
        words.append(f"{size:g} mm {got}/{got + sum(m[0] == size for o in good for m in o['spots']['missed'])}")
    false = [len(one["spots"]["false"]) for one in good]
    yield (
        f"spots: {', '.join(words) or 'none'}; false and sure: mean {np.mean(false):.2f}, most {max(false)}, more than "
        f"3 on {sum(f > 3 for f in false)} of {len(good)}"
    )
    if hits:
        far = np.quantile([h[2] for h in hits], 0.95)
        yield f"screen and kind right {np.mean([h[1] for h in hits]):.1%}; place of a spot p95 {far:.2f} mm"


def by_design(records: Sequence[Record]) -> Iterator[str]:
    """Yield one line for each design."""
    for name in dict.fromkeys(one["design"] for one in records):
        mine = [one for one in records if one["design"] == name]
        good = [one for one in mine if "refused" not in one]
        told = [s for one in good for s in one["screens"] if s["off"] is not None and not s["why"]]
        of = sum(s["off"] is not None for one in good for s in one["screens"])
        hits = sum(len(o["spots"]["hits"]) for o in good)
        missed = sum(len(o["spots"]["missed"]) for o in good)
        words = f"{name}: {len(good)} of {len(mine)} read"
        if told:
            off = [s["off"] for s in told]
            inside = sum(s["off"] <= s["band"] for s in told)
            words += f"; register {len(told)}/{of} told, {inside} in band, p90 {np.quantile(off, 0.9):.3f}"
            words += f", worst {max(off):.3f}"
        if good:
            place = np.median([o["place"][1] for o in good])
            false = [len(o["spots"]["false"]) for o in good]
            words += f"; place p95 {place:.2f}; spots {hits}/{hits + missed}, false {false}"
        yield words
