"""One art on two garments: a shaded drawing turns into a negative when one film set serves both (common practice)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.stats import spearmanr

from sepkit.workshop.print.side_by_side import (
    film_set_findings,
    likeness,
    print_on_other,
    rank_correlation,
    same_films,
    side_by_side,
)
from tests.helpers.print_plans import RED, YELLOW, plan, save


@pytest.fixture
def shaded(tmp_path: Path) -> Path:
    """A ball lit from one side, fading to black: its shadow is bare black garment."""
    y, x = np.mgrid[-1:1:160j, -1:1:240j]
    light = np.clip(1.1 - np.hypot(x * 1.2 + 0.4, y * 1.2 + 0.3), 0, 1) ** 1.5
    path = tmp_path / "ball.png"
    Image.fromarray(np.rint(20 + 225 * light).astype(np.uint8)).convert("RGB").save(path)
    return path


def test_a_shaded_drawing_would_be_a_negative(shaded: Path) -> None:
    black, _ = plan(shaded, "black tee", inks="white")
    white, seen_white = plan(shaded, "white tee", inks="black")
    told = film_set_findings([black, white])
    assert [f.code for f in told] == ["negative-on-other-garment"]
    assert told[0].level == "warn"
    assert likeness(black, black.separation.garment) > 0.9
    assert likeness(black, white.separation.garment) < -0.9
    sheet = side_by_side([black, white])
    assert sheet.shape[1] > 3 * 600, "two prints, and the negative"
    wrong = print_on_other(black, white.separation.garment).astype(float).mean(axis=2)
    right = seen_white.astype(float).mean(axis=2)
    assert np.corrcoef(wrong.ravel(), right.ravel())[0, 1] < -0.5


def test_teal_brushwork_keeps_its_lights_on_both_cloths(tmp_path: Path) -> None:
    """Half-transparent strokes are lighter than black cloth and darker than white: that is no negative."""
    alpha = np.tile(np.linspace(0, 255, 240).astype(np.uint8), (160, 1))
    rgba = np.dstack([np.broadcast_to(np.array((18, 74, 92), np.uint8), (160, 240, 3)), alpha])
    path = tmp_path / "brush.png"
    Image.fromarray(rgba).save(path)
    black = plan(path, "black tee")[0]
    white = plan(path, "white tee")[0]
    assert likeness(black, white.separation.garment) > 0.9
    assert "negative-on-other-garment" not in [f.code for f in film_set_findings([black, white])]


def test_a_flat_logo_survives_and_may_share_its_films(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), YELLOW), ((30, 5, 55, 35), RED)])
    black, white = (plan(art, garment, press="four-head")[0] for garment in ("black tee", "white tee"))
    assert same_films(black.separation.plates, white.separation.plates)
    told = film_set_findings([black, white])
    assert [f.code for f in told] == ["one-film-set"]
    assert "only black tee has a base" in told[0].text


def test_rank_correlation_agrees_with_scipy() -> None:
    rng = np.random.default_rng(3)
    a = rng.integers(0, 12, 400).astype(float)
    b = (a + rng.normal(0, 4, 400)).round(1)
    assert rank_correlation(a, b) == pytest.approx(float(spearmanr(a, b).statistic), abs=1e-9)
    assert rank_correlation(a, np.zeros(400)) == 1.0


def test_a_drawing_beside_an_ink_that_shows_is_still_told(shaded: Path, tmp_path: Path) -> None:
    """The same ball in white with a red bar at its foot, side by side with it: the white is no shade of the red."""
    ball = np.asarray(Image.open(shaded)).copy()
    ball[150:] = RED
    path = tmp_path / "bar.png"
    Image.fromarray(ball).save(path)
    black, _ = plan(path, "black tee", inks="white,#c82828")
    white, _ = plan(path, "white tee", inks="black,#c82828")
    assert "negative-on-other-garment" in [f.code for f in film_set_findings([black, white])]
