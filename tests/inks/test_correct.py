from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.errors import UsageError
from sepkit.inks.correct import advised_addition, after_adding, corrections, estimate_batch, weighed_additions
from sepkit.inks.layers import masstone
from sepkit.inks.mixing import mix
from sepkit.model import Ink
from tests.helpers.shelf import find_ink, ink_names

RECIPES = (
    "white:400 yellow:80 red:20",
    "white:300 blue:100",
    "yellow:250 red:200 black:50",
    "white:450 black:25 blue:25",
)


def parts_of(text: str) -> list[tuple[Ink, float]]:
    return [(find_ink(name), float(grams)) for name, grams in (part.split(":") for part in text.split())]


def lab_of(parts: list[tuple[Ink, float]]) -> np.ndarray:
    return reflectance_to_lab(masstone(mix(parts)))


@pytest.mark.parametrize("text", RECIPES)
def test_a_misweighed_batch_is_repaired_in_truth_not_only_in_prediction(text: str) -> None:
    nominal = parts_of(text)
    rng = np.random.default_rng(len(text))
    real = [(ink, grams * (1 + float(rng.choice([-0.15, 0.15])))) for ink, grams in nominal]
    real[0] = (real[0][0], nominal[0][1] * 0.87)
    target = lab_of(nominal)
    found = corrections(nominal, lab_of(real), target, [find_ink(name) for name in ink_names()])
    before, best = float(delta_e_2000(lab_of(real), target)), found[-1]
    after = lab_of([*real, *zip(best.inks, best.grams.tolist(), strict=True)])
    assert found[0].inks == () and found[0].de00 == pytest.approx(before, abs=1e-6)
    assert float(delta_e_2000(after, target)) < max(0.35, 0.3 * before)


def test_the_front_trades_grams_for_nearness() -> None:
    nominal = parts_of("white:400 yellow:80 red:20")
    found = corrections(nominal, lab_of(parts_of("white:360 yellow:80 red:26")), lab_of(nominal), [find_ink("white")])
    grams, off = [a.total_g for a in found], [a.de00 for a in found]
    assert grams == sorted(grams) and off == sorted(off, reverse=True)
    assert all((a.grams >= 0).all() for a in found)
    assert {ink.name for a in found for ink in a.inks} <= {"white"}


def test_the_batch_is_estimated_from_its_measurement() -> None:
    inks = [find_ink("white"), find_ink("black")]
    real = np.array([95.0, 6.5])
    seen = lab_of(list(zip(inks, real.tolist(), strict=True)))
    own = estimate_batch(inks, np.array([95.0, 5.0]), seen)
    assert own.grams[1] / own.grams[0] == pytest.approx(6.5 / 95, rel=0.05)
    assert np.abs(own.offset).max() < 0.4


def test_rounded_doses_can_be_foretold() -> None:
    nominal = parts_of("white:400 yellow:80 red:20")
    measured = lab_of(parts_of("white:360 yellow:80 red:26"))
    best = corrections(nominal, measured, lab_of(nominal), [find_ink("white"), find_ink("yellow")])[-1]
    exact = after_adding(nominal, measured, list(zip(best.inks, best.grams.tolist(), strict=True)))
    assert exact == pytest.approx(best.lab, abs=1e-9)
    assert after_adding(nominal, measured, []) == pytest.approx(measured, abs=1e-9)


def test_weighed_additions_lie_on_the_scale_and_are_predicted_as_weighed() -> None:
    nominal, target = parts_of("white:400 yellow:80 red:20"), lab_of(parts_of("white:400 yellow:80 red:20"))
    measured = lab_of(parts_of("white:360 yellow:80 red:26"))
    found = corrections(nominal, measured, target, [find_ink("white"), find_ink("yellow")])
    weighed = weighed_additions(found, nominal, measured, target, step_g=5.0)
    assert [one.exact for one in weighed] == found
    assert weighed[0].parts == () and weighed[0].total_g == 0
    for one in weighed[1:]:
        assert all(grams >= 5 and grams % 5 == 0 for _, grams in one.parts)
        assert one.look.lab == pytest.approx(after_adding(nominal, measured, one.parts), abs=1e-9)
        assert one.de00 == pytest.approx(float(delta_e_2000(np.array(one.look.lab), target)), abs=1e-9)


def test_the_first_addition_within_the_tolerance_is_advised_else_the_nearest() -> None:
    nominal, target = parts_of("white:400 yellow:80 red:20"), lab_of(parts_of("white:400 yellow:80 red:20"))
    measured = lab_of(parts_of("white:360 yellow:80 red:26"))
    found = corrections(nominal, measured, target, [find_ink("white"), find_ink("yellow")])
    weighed = weighed_additions(found, nominal, measured, target, step_g=0.1)
    off = [one.de00 for one in weighed]
    assert advised_addition(weighed, off[0]) == 0
    middle = (off[0] + min(off)) / 2
    assert off[advised_addition(weighed, middle)] <= middle < off[advised_addition(weighed, middle) - 1]
    assert off[advised_addition(weighed, 0.0)] == min(off)


def test_nothing_allowed() -> None:
    nominal = parts_of("white:400 yellow:80")
    with pytest.raises(UsageError, match="no ink"):
        corrections(nominal, lab_of(nominal), lab_of(nominal), [])
