"""No dark line is drawn where two inks overlap for the press, and gaps and rims stay."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.helpers.print_plans import BLUE, YELLOW, plan, save


def test_a_join_shows_no_third_colour(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), YELLOW), ((30, 5, 55, 35), BLUE)])
    planned, picture = plan(art, "white tee", inks="all", trap_mm=0.6)
    trapped = next(p for p in planned.plan.plates if (p.printed > p.coverage).any())
    assert trapped.trap_mm == 0.6
    row = picture[80, 24:216].astype(int)
    colours = np.unique(row.reshape(-1, 3), axis=0)
    assert len(colours) <= 3, "yellow, blue, and one pixel of the edge between them"


def test_an_ink_that_prints_on_nothing_keeps_its_spread(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), YELLOW)])
    planned, picture = plan(art, "white tee", trap_mm=0.6)
    plate = planned.plan.plates[-1]
    np.testing.assert_array_equal(picture[plate.printed == 255].std(axis=0), 0)
