from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.inks.layers import film, printed_reflectance
from sepkit.inks.match import InkSet, Target, View, match, seen, solve, subsets
from sepkit.inks.mixing import mix
from tests.helpers.shelf import find_ink

NAMES = ("white", "black", "yellow", "red", "blue", "green", "orange")


@pytest.fixture(scope="module")
def ink_set() -> InkSet:
    return InkSet([find_ink(name) for name in NAMES])


def target_of(reflectance: np.ndarray) -> Target:
    return Target("made", reflectance_to_lab(reflectance), reflectance, measured_spectrum=True)


def test_all_subsets_of_up_to_three_of_twelve() -> None:
    assert len(subsets(12, 3)) == 12 + 66 + 220
    assert len(subsets(3, 4)) == 7


def test_recovers_recipes_it_could_have_made(ink_set: InkSet) -> None:
    rng = np.random.default_rng(11)
    for _ in range(12):
        chosen = rng.choice(len(NAMES), int(rng.integers(2, 4)), replace=False)
        weight = np.exp(rng.uniform(np.log(0.02), 0, len(chosen)))
        share = weight / weight.sum()
        k, s = share @ ink_set.absorption[chosen], share @ ink_set.scattering[chosen]
        lab = reflectance_to_lab(seen(k, s, ink_set.view))
        shares, found = solve(ink_set, lab)
        row = next(i for i in range(len(ink_set.subsets)) if set(ink_set.subsets[i][ink_set.used[i]]) == set(chosen))
        assert delta_e_2000(found[row], lab) < 1e-4
        assert shares[row][ink_set.used[row]].sum() == pytest.approx(1)
        there = dict(zip(ink_set.subsets[row].tolist(), shares[row].tolist(), strict=True))
        assert [there[int(i)] for i in chosen] == pytest.approx(share.tolist(), abs=1e-3)


def test_mass_shares_remix_to_the_predicted_colour(ink_set: InkSet) -> None:
    target = target_of(seen(*_parts("white:70 yellow:25 red:5"), View()))
    best = match(ink_set, target)[0]
    again = mix(list(zip(best.inks, (best.mass_shares * 500).tolist(), strict=True)))
    lab = reflectance_to_lab(seen(again.absorption, again.scattering, View()))
    assert delta_e_2000(lab, best.lab) < 1e-6
    assert best.de00 < 0.05
    assert best.worst_light_de00 < 0.5


def test_fewer_inks_win_when_both_reach(ink_set: InkSet) -> None:
    target = target_of(seen(*_parts("white:95 black:5"), View()))
    assert [ink.name for ink in match(ink_set, target)[0].inks] == ["white", "black"]


def test_order_is_best_first(ink_set: InkSet) -> None:
    found = match(ink_set, Target("teal", np.array([50.0, -25.0, -10.0]), np.full(31, 0.2)), keep=20)
    rounded = [round(b.de00 / 0.2) for b in found]
    assert rounded == sorted(rounded)
    assert all(b.mass_shares.sum() == pytest.approx(1) for b in found)


def test_aims_at_the_print_when_asked() -> None:
    cloth = srgb8_to_reflectance((26, 26, 28))
    white = find_ink("white")
    wanted = mix([(find_ink("yellow"), 60.0), (find_ink("red"), 40.0)])
    look = printed_reflectance([(white, 1.0), (wanted, 1.0)], cloth)
    base = film(white.absorption, white.scattering)
    view = View(cloth=cloth, coats=1.0, base=base, base_coats=1.0)
    best = match(InkSet([find_ink(n) for n in ("white", "yellow", "red", "black")], view=view), target_of(look))[0]
    assert best.de00 < 0.05
    assert {ink.name for ink in best.inks} == {"yellow", "red"}


def test_out_of_reach_gives_the_nearest(ink_set: InkSet) -> None:
    green = Target("pure green", np.array([87.7, -86.2, 83.2]), np.full(31, 0.5))
    best = match(ink_set, green)[0]
    assert best.de00 > 5
    assert best.de00 == pytest.approx(float(delta_e_2000(best.lab, green.lab)), abs=1e-9)


def test_four_inks() -> None:
    ink_set = InkSet([find_ink(name) for name in NAMES[:5]], most=4)
    k, s = _parts("white:50 yellow:30 red:15 black:5")
    assert match(ink_set, target_of(seen(k, s, View())))[0].de00 < 0.1


def _parts(text: str) -> tuple[np.ndarray, np.ndarray]:
    ink = mix([(find_ink(name), float(grams)) for name, grams in (part.split(":") for part in text.split())])
    return ink.absorption, ink.scattering


def test_kinds_that_do_not_mix_are_not_proposed() -> None:
    red, white, yellow = find_ink("red"), find_ink("white"), find_ink("yellow")
    water = replace(white, name="water white", kind="water-based")
    ink_set = InkSet([red, water, yellow, white])
    made = [{ink_set.inks[i].kind for i in row[row >= 0]} for row in ink_set.subsets]
    assert all(len(kinds) == 1 for kinds in made)
    assert len(made) == 4 + 3 + 1


def test_one_ink_is_a_recipe_too() -> None:
    red = find_ink("red")
    found = match(InkSet([red]), target_of(seen(red.absorption, red.scattering, View())))
    assert len(found) == 1 and found[0].de00 < 1e-6 and found[0].mass_shares.tolist() == [1.0]
