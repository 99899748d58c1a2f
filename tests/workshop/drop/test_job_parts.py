from __future__ import annotations

import numpy as np
import pytest

from sepkit.film.making import FilmMaking
from sepkit.film.tone import DotGain
from sepkit.model import Halftone, Mesh, Plate
from sepkit.press.filming import film_settings
from sepkit.press.sequence import Order
from sepkit.sheets.words import clock
from sepkit.workshop.drop.facts import ink_family, inked_cm2
from sepkit.workshop.drop.recipes import cup_recipe, shelf_for_recipes
from tests.helpers.print_folders import grey_ink


def plate(coverage: np.ndarray, halftone: Halftone | None = None) -> Plate:
    tone = None if halftone is None else np.ones(coverage.shape, bool)
    return Plate(
        1,
        "a",
        "colour",
        grey_ink("black"),
        (0, 0, 0),
        (0, 0, 0),
        coverage,
        coverage.copy(),
        tone,
        1,
        False,
        halftone,
        Mesh(77, 55),
    )


def test_inked_area_of_crisp_art_is_that_of_the_film() -> None:
    rows, columns = np.mgrid[:200, :160]
    cover = np.clip((60 - np.hypot(rows - 100, columns - 80)) * 255 + 128, 0, 255).astype(np.uint8)
    one = plate(cover)
    settings = film_settings(FilmMaking(600.0), one.mesh, one.halftone)
    area = inked_cm2(one, width_mm=80, height_mm=100, settings=settings)
    assert area == pytest.approx(np.pi * 3.0**2, rel=0.01)
    from sepkit.film.rows import plan_film

    film = plan_film(one.printed, None, None, width_mm=80, height_mm=100, settings=settings)
    counted = sum(int(np.bitwise_count(rows).sum()) for rows in film.bands()) / (film.width_px * film.height_px) * 80
    assert area == pytest.approx(counted, rel=0.01)


def test_inked_area_of_a_tone_is_counted_on_the_film() -> None:
    one = plate(np.full((80, 80), 128, np.uint8), Halftone(45, 22.5, "ellipse"))
    area = [
        inked_cm2(
            one,
            width_mm=50,
            height_mm=50,
            settings=film_settings(FilmMaking(600.0, DotGain(edge)), one.mesh, one.halftone),
        )
        for edge in (0.0, 40.0)
    ]
    assert area[0] == pytest.approx(12.5, rel=0.03)
    assert area[1] < 0.85 * area[0]


def test_ink_families() -> None:
    assert ink_family((250, 250, 248)) == "white"
    assert ink_family((240, 200, 60)) == "light inks"
    assert ink_family((20, 20, 22)) == "dark inks"


def test_a_recipe_adds_up_and_is_weighable() -> None:
    shelf = shelf_for_recipes("plastisol")
    assert shelf is not None
    recipe = cup_recipe("#1b7482", 120.0, shelf=shelf, scale_step_g=0.1)
    assert sum(mass for _, mass in recipe.parts) == pytest.approx(120, abs=0.3)
    assert recipe.de00 < 3
    assert recipe.fine
    assert all(mass >= 2.0 for _, mass in recipe.parts)
    assert not cup_recipe("#1b7482", 40.0, shelf=shelf, scale_step_g=10.0).fine
    assert shelf_for_recipes("no such kind") is None


def test_times_in_words() -> None:
    assert clock(125) == "2 h 05 min"
    assert clock(59.6) == "1 h 00 min"


def test_one_blade_for_three_inks_is_told() -> None:
    from sepkit.press.runs import Pull, Run
    from sepkit.press.sequence import press_order
    from sepkit.workshop.drop.findings import blade_findings

    def order(blades: int) -> Order:
        pulls = tuple(
            Pull(n, "A", ink, ink, 300, 1, flash_after=False, blades=blades)
            for n, ink in enumerate(("white", "red", "blue"))
        )
        return press_order([Run("front", "full front", "tee", 10, 5, "body", pulls, 1.0)], heads=3, trace={})

    (found,) = blade_findings(order(1))
    assert found.text == "front takes 3 inks in turn with a 300 mm blade, and 1 such blade is there"
    assert blade_findings(order(3)) == []
