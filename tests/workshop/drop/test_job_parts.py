from __future__ import annotations

import numpy as np
import pytest

from sepkit.errors import ArtworkError
from sepkit.film.making import FilmMaking
from sepkit.film.tone import DotGain
from sepkit.model import Artwork, Halftone, Mesh, Plate
from sepkit.press.filming import film_settings
from sepkit.sheets.words import clock
from sepkit.workshop.drop.facts import ink_family, inked_cm2
from sepkit.workshop.drop.recipes import cup_recipe, shelf_for_recipes
from sepkit.workshop.print.one_ink import one_ink_coverage
from tests.helpers.print_folders import grey_ink


def art(rgb: np.ndarray, alpha: np.ndarray | None = None) -> Artwork:
    height, width = rgb.shape[:2]
    alpha = np.full((height, width), 255, np.uint8) if alpha is None else alpha
    return Artwork(rgb.astype(np.uint8), alpha, float(width), float(height), "kite.png")


def two_tone() -> Artwork:
    rgb = np.full((20, 40, 3), 240, np.uint8)
    rgb[:, :20] = (20, 60, 100)
    return art(rgb)


def test_one_ink_from_shape_dark_and_light() -> None:
    one = two_tone()
    dark = one_ink_coverage(one, source="dark", cloth_lightness=95)
    light = one_ink_coverage(one, source="light", cloth_lightness=10)
    assert dark[:, :19].min() == 255 and dark[:, 21:].max() == 0
    assert np.array_equal(dark, 255 - light)
    assert one_ink_coverage(one, source="shape", cloth_lightness=10).min() == 255


def test_an_antialiased_edge_keeps_its_place() -> None:
    rgb = np.full((4, 9, 3), 240, np.uint8)
    rgb[:, :4], rgb[:, 4] = 20, 130
    cover = one_ink_coverage(art(rgb), source="dark", cloth_lightness=95)
    assert 64 < cover[0, 4] < 192


def test_tones_follow_the_cloth() -> None:
    rgb = np.repeat(np.arange(0, 256, 5, dtype=np.uint8)[None, :, None], 3, axis=2).repeat(4, axis=0)
    on_white = one_ink_coverage(art(rgb), source="tone", cloth_lightness=95)[0].astype(int)
    on_black = one_ink_coverage(art(rgb), source="tone", cloth_lightness=10)[0].astype(int)
    assert on_white[0] == 255 and on_white[-1] == 0
    assert on_black[0] == 0 and on_black[-1] == 255
    assert np.all(np.diff(on_white) <= 0) and np.all(np.diff(on_black) >= 0)


def test_transparent_art_takes_no_ink_and_nothing_left_says_so() -> None:
    rgb, alpha = np.zeros((6, 6, 3), np.uint8), np.zeros((6, 6), np.uint8)
    alpha[:3] = 255
    assert one_ink_coverage(art(rgb, alpha), source="dark", cloth_lightness=95)[3:].max() == 0
    with pytest.raises(ArtworkError, match="nothing of the art is left"):
        one_ink_coverage(art(rgb, alpha * 0), source="shape", cloth_lightness=95)


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


def test_blades_that_lack_are_told_once_for_each_width() -> None:
    from sepkit.workshop.drop.findings import blade_findings
    from sepkit.workshop.drop.runs import ShortBlades

    (found,) = blade_findings([ShortBlades("chest", 300, 1, 2), ShortBlades("front", 300, 1, 3)])
    assert found.text == "front takes 3 inks in turn with a 300 mm blade, and 1 such blade is there"
    assert found.hint.startswith("buy 2 more")
    assert blade_findings([]) == []
