from __future__ import annotations

import pytest

from sepkit.model import Mesh
from sepkit.press.mesh import ink_volume_cm3_m2
from sepkit.press.quantities import (
    CUP_LOSS_G,
    TEST_PULLS,
    Hits,
    Loading,
    Staging,
    grams_per_hit,
    ink_needs,
    presses_needed,
    round_up_g,
)


@pytest.mark.parametrize(
    ("size", "mesh", "density", "grams"),
    [
        # 40 % of the box inked, one hit, worked by hand from the mesh volumes (51, 35 cm3/m2).
        ((35.0, 45.0), Mesh(43, 80), 1.35, 4.34),
        ((35.0, 45.0), Mesh(62, 60), 1.25, 2.76),
        ((28.0, 35.0), Mesh(43, 80), 1.35, 2.69),
        ((9.0, 9.0), Mesh(43, 80), 1.35, 0.223),
    ],
)
def test_grams_of_one_hit(size: tuple[float, float], mesh: Mesh, density: float, grams: float) -> None:
    assert grams_per_hit(0.4 * size[0] * size[1], mesh, density) == pytest.approx(grams, rel=0.01)


def test_small_labels_need_a_full_screen_and_give_it_back() -> None:
    hits = [Hits("label/white", "white", 1.3, Mesh(62, 60), 12.0, 1, 40)]
    (need,) = ink_needs(hits, [Loading("label/white", "white", 1.3, 110)], Staging("plastisol", 1.0))
    assert need.printed_g == pytest.approx(40 * 12 * ink_volume_cm3_m2(Mesh(62, 60)) / 1e4 * 1.3)
    assert need.printed_g < 4
    assert need.stage_g > 40
    assert need.back_g > 0.8 * need.stage_g - need.printed_g - need.tests_g - CUP_LOSS_G


def test_parts_add_up_to_what_is_staged() -> None:
    hits = [
        Hits("back/white", "white", 1.35, Mesh(43, 80), 420.0, 2, 30, fleece=True),
        Hits("back/white", "white", 1.35, Mesh(43, 80), 420.0, 2, 12),
        Hits("chest/white", "white", 1.35, Mesh(43, 80), 31.0, 2, 42),
    ]
    loads = [Loading("back/white", "white", 1.35, 350), Loading("chest/white", "white", 1.35, 120)]
    (need,) = ink_needs(hits, loads, Staging("plastisol", 0.9))
    assert sum(part.mass_g for part in need.parts) == pytest.approx(need.stage_g)
    assert need.used_g + need.back_g == pytest.approx(need.stage_g)
    back = grams_per_hit(420, Mesh(43, 80), 1.35)
    assert hits[0].grams_per_hit(0.9) == pytest.approx(back * 0.9 * 1.3)
    chest = grams_per_hit(31, Mesh(43, 80), 1.35) * 0.9
    assert need.tests_g == pytest.approx(TEST_PULLS * 2 * (back * 0.9 * 1.3 + chest))


def test_leftovers_come_first() -> None:
    hits = [Hits("a", "red", 1.2, Mesh(62, 60), 100.0, 1, 20)]
    loads = [Loading("a", "red", 1.2, 300)]
    needs = [
        ink_needs(hits, loads, Staging("plastisol", 1.0, on_shelf_g={"red": grams}))[0] for grams in (0.0, 30.0, 9e3)
    ]
    assert needs[0].to_mix_g == needs[0].stage_g
    assert needs[1].to_mix_g == needs[0].stage_g - 30
    assert needs[2].to_mix_g == 0


def test_mixed_inks_are_made_in_a_weighable_amount() -> None:
    hits = [Hits("a", "#123456", 1.2, Mesh(120, 34), 1.0, 1, 2)]
    (need,) = ink_needs(hits, [], Staging("plastisol", 1.0, custom=frozenset(["#123456"])))
    assert need.stage_g >= 40


def test_water_ink_gives_less_back_than_plastisol() -> None:
    hits = [Hits("a", "red", 1.1, Mesh(62, 60), 100.0, 1, 20)]
    loads = [Loading("a", "red", 1.1, 300)]
    back = [ink_needs(hits, loads, Staging(kind, 1.0))[0].lost_g for kind in ("plastisol", "water-based")]
    assert back[0] < back[1]


@pytest.mark.parametrize(
    ("size", "plate", "count"),
    [
        ((300, 300), (380, 380), 1),
        ((380, 420), (380, 380), 2),
        ((450, 560), (380, 380), 4),
        ((500, 300), (300, 500), 1),
    ],
)
def test_heat_presses(size: tuple[float, float], plate: tuple[float, float], count: int) -> None:
    assert presses_needed(size, plate, 40) == count


def test_rounding_up() -> None:
    assert round_up_g(43) == 48  # +10 % is less than the next ten
    assert round_up_g(98) == 100
    assert round_up_g(50) == 50
