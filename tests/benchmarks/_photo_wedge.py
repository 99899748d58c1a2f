"""The wedge by photograph against its films: tints, growth, register, the thinnest line that held."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from sepkit.files.shelf.shelf import Shelf
from sepkit.film.wedge import WedgeSettings, wedge_tests
from sepkit.press.wedge_reading import WedgeReading, edge_growth
from sepkit.reading.find import find
from sepkit.reading.gates import check_place
from sepkit.reading.screens import fitted
from sepkit.reading.wedge import ALONG_MM, EACH_HOLDS, HOLDS, MEAN_HOLDS, read_wedge
from sepkit.workshop.photo.wedge import wedge_subject
from tests.benchmarks._photo_scores import picture
from tests.helpers.photographs import Shot, film_with_breaks, random_shot, take_photo
from tests.helpers.printed_cloth import FILM_PX_MM, printed_wedge


def wedge_lines(first_seed: int, each: int) -> Iterator[str]:
    """Yield one line for each photograph of the wedge, half as many as ``each``."""
    shelf, settings = Shelf(), WedgeSettings()
    inks = [shelf.ink("black"), shelf.ink("red")]
    printed = printed_wedge(settings, inks, shelf.garment("white tee").reflectance)
    subject, tests = wedge_subject(settings), wedge_tests(settings)
    yield "wedge by photograph, 8 px/mm"
    for nth in range(max(1, each // 2)):
        seed = first_seed + 800 + nth
        rng = np.random.default_rng(seed)
        shot = random_shot(printed, seed, px_per_mm=8.0, sizes=())
        growth, broken = float(rng.uniform(0.01, 0.1)), float(rng.choice([0.12, 0.17, 0.22, 0.27]))
        shot = replace(shot, broken_mm=broken, around=1.15)
        for screen in shot.screens:
            screen.growth_mm = growth
        photo = picture(take_photo(printed, shot))
        start = time.process_time()
        fit = fitted(subject, photo, check_place(find(subject, photo), where="", what="the wedge"))
        read = read_wedge(subject, photo, fit, tests)
        seconds = time.process_time() - start
        off = [
            100 * (t.printed - _true_tint(printed, test, growth)) for t, test in zip(read.tones, tests[:], strict=False)
        ]
        edge, _ = edge_growth(WedgeReading(tones=tuple((t.lpi, t.asked, t.printed) for t in read.tones)))
        second, truth = fit.screens[1], shot.screens[1]
        miss = np.hypot(second.dx_mm - truth.dx_mm, second.dy_mm - truth.dy_mm)
        yield (
            f"   {seed}: tones off {np.mean(np.abs(off)):.1f}, worst {np.max(np.abs(off)):.1f} points; growth "
            f"{edge:.0f} for {1000 * growth:.0f} µm; register off {miss:.3f} (± {second.band_mm:.3f}"
            f"{', untold' if read.register_mm is None else ''}) mm; thinnest line {read.thinnest_line_mm} for "
            f"{_true_thinnest(printed, tests, shot)}; {seconds:.0f} s"
        )


def _true_tint(printed, test, growth: float) -> float:
    x0, x1 = (int((v) * FILM_PX_MM) for v in (test.x_mm + 1.5, test.x_mm + test.width_mm - 1.5))
    y0, y1 = (int((v) * FILM_PX_MM) for v in (test.y_mm + 1.5, test.y_mm + test.height_mm - 1.5))
    far = printed.films[0][y0:y1, x0:x1].astype(np.float32) - growth
    return float(np.clip(0.5 - far * FILM_PX_MM, 0, 1).mean())


def _true_thinnest(printed, tests, shot: Shot) -> float | None:
    """The least width from which on bars printed unbroken, as the reader counts breaks, of the film as it printed."""
    far = film_with_breaks(printed.films[0].astype(np.float32), shot, 0) - shot.screens[0].growth_mm
    shares: dict[float, list[float]] = {}
    for test in [one for one in tests if one.test == "line"]:
        upright = test.height_mm > test.width_mm
        pad = (0.5, 0.0) if upright else (0.0, 0.5)
        (x0, y0), (x1, y1) = (
            [round(v * FILM_PX_MM) for v in (test.x_mm + sign * pad[0] + w, test.y_mm + sign * pad[1] + h)]
            for sign, w, h in ((-1, 0.0, 0.0), (1, test.width_mm, test.height_mm))
        )
        profile = np.clip(0.5 - far[y0:y1, x0:x1] * FILM_PX_MM, 0, 1).sum(axis=1 if upright else 0) / FILM_PX_MM
        length = round(ALONG_MM * FILM_PX_MM)
        smooth = np.convolve(profile, np.full(length, 1 / length), mode="valid")
        shares.setdefault(test.asked, []).append(float((smooth > HOLDS * test.asked).mean()))
    found = None
    for width, mine in sorted(shares.items(), reverse=True):
        if min(mine) < EACH_HOLDS or np.mean(mine) < MEAN_HOLDS:
            break
        found = width
    return found
