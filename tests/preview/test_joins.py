"""No dark line is drawn where two inks overlap for the press, and gaps and rims stay."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sepkit.colorimetry.srgb import linear_table, linear_to_srgb
from tests.helpers.print_plans import BLUE, RED, WHITE, YELLOW, plan, save


def test_a_join_shows_no_third_colour(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), YELLOW), ((30, 5, 55, 35), BLUE)])
    planned, picture = plan(art, "white tee", inks="all", trap_mm=0.6)
    trapped = next(p for p in planned.plan.plates if (p.printed > p.coverage).any())
    assert trapped.trap_mm == 0.6
    row = linear_table()[picture[80]].astype(float)
    yellow, blue = row[60], row[180]
    edge = [at for at in range(24, 216) if (row[at] != yellow).any() and (row[at] != blue).any()]
    assert set(edge) <= {119, 120}, "a redrawn edge lies half in the pixel on either side of the join"
    for at in edge:
        share = (row[at] - blue) @ (yellow - blue) / ((yellow - blue) @ (yellow - blue))
        assert 0 < share < 1
        mixed = linear_to_srgb(yellow * share + blue * (1 - share)) * 255
        np.testing.assert_allclose(picture[80, at], mixed, atol=2, err_msg="neither darker nor of another hue")


def test_an_ink_that_prints_on_nothing_keeps_its_spread(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), YELLOW)])
    planned, picture = plan(art, "white tee", trap_mm=0.6)
    plate = planned.plan.plates[-1]
    np.testing.assert_array_equal(picture[plate.printed == 255].std(axis=0), 0)


def test_white_that_is_base_too_stays_under_the_inks_on_it(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), WHITE), ((30, 5, 55, 35), RED)])
    planned, picture = plan(art, white_screens="one", base=("always",), inks="all")
    white, red = planned.plan.plates
    assert white.also_base is not None and white.trap_mm > 0
    for plate, at in ((white, 60), (red, 180)):
        assert np.abs(picture[80, at].astype(int) - plate.print_srgb).max() <= 1
