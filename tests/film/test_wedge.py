from __future__ import annotations

import numpy as np
import pytest

from sepkit.errors import UsageError
from sepkit.film.page import Solid, Stroke
from sepkit.film.wedge import PAGE_MM, TONES_PERCENT, WIDTHS_MM, WedgeSettings, calibration_film

DPI = 300.0


@pytest.fixture(scope="module")
def wedge():  # type: ignore[no-untyped-def]
    return calibration_film(WedgeSettings(dpi=DPI))


def test_two_films_of_one_size_that_fit_a4(wedge) -> None:  # type: ignore[no-untyped-def]
    first, second = wedge.pages
    assert (first.width_px, first.height_px) == (second.width_px, second.height_px)
    assert first.width_mm <= 210 and first.height_mm <= 297
    for page in wedge.pages:
        for mark in page.marks:
            for x, y in mark.points:
                assert 0 <= x <= PAGE_MM[0] and 0 <= y <= PAGE_MM[1], (page.title, mark)


def test_tone_steps_hold_their_tints(wedge) -> None:  # type: ignore[no-untyped-def]
    steps = wedge.pages[0].films[: 2 * len(TONES_PERCENT)]
    for placed, percent in zip(steps, TONES_PERCENT * 2, strict=True):
        film = placed.film
        inked = sum(int(np.bitwise_count(rows).sum()) for rows in film.bands()) / (film.width_px * film.height_px)
        assert inked == pytest.approx(percent / 100, abs=0.02)


def test_bars_have_the_widths_they_say(wedge) -> None:  # type: ignore[no-untyped-def]
    solids = [np.asarray(mark.points) for mark in wedge.pages[0].marks if isinstance(mark, Solid)]
    thin = {round(float(np.ptp(p, axis=0).min()), 3) for p in solids}
    assert set(WIDTHS_MM) <= thin


def test_ladders_differ_by_a_tenth_of_a_millimetre(wedge) -> None:  # type: ignore[no-untyped-def]
    def pitch(page) -> float:  # type: ignore[no-untyped-def]
        lines = [m.points for m in page.marks if isinstance(m, Stroke) and len(m.points) == 2]
        upright = [a for a, b in lines if a[0] == b[0] and abs(a[1] - (PAGE_MM[1] - 26)) < 1e-6]
        xs = sorted({round(x, 3) for x, _ in upright})
        assert len(xs) == 21
        return float(np.median(np.diff(xs)))

    first, second = (pitch(page) for page in wedge.pages)
    assert second - first == pytest.approx(0.1)


def test_the_inked_area_is_that_of_the_drawn_page(wedge) -> None:  # type: ignore[no-untyped-def]
    from PIL import Image, ImageDraw

    page, fine = wedge.pages[0], 4
    scale = page.dpi / 25.4 * fine
    image = Image.new("1", (page.width_px * fine, page.height_px * fine), 0)
    draw = ImageDraw.Draw(image)
    for mark in page.marks:
        points = [(x * scale, y * scale) for x, y in mark.points]
        if isinstance(mark, Solid):
            draw.polygon(points, fill=1)
        else:
            draw.line(points, fill=1, width=max(1, round(mark.width_mm * scale)))
    drawn = np.array(image).mean() * page.width_mm * page.height_mm / 100
    for placed in page.films:
        film = placed.film
        drawn += sum(int(np.bitwise_count(rows).sum()) for rows in film.bands()) * (2.54 / page.dpi) ** 2
    assert wedge.inked_cm2 == pytest.approx(drawn, rel=0.02)


def test_a_ruling_that_the_film_cannot_draw() -> None:
    with pytest.raises(UsageError):
        calibration_film(WedgeSettings(lpi=(149.0,), dpi=150))
