from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
from sepkit.inks.layers import masstone, printed_reflectance
from sepkit.inks.looks import look_of, opaque_look, printed_look
from sepkit.inks.mixing import mix
from sepkit.inks.tint import STEPS_PERCENT, tint_steps
from tests.helpers.shelf import find_ink


def test_an_opaque_look_is_the_masstone_in_lab_and_srgb() -> None:
    red = find_ink("red")
    look = opaque_look(red)
    assert look.lab == tuple(reflectance_to_lab(masstone(red)).tolist())
    assert look.srgb == tuple(reflectance_to_srgb8(masstone(red)).tolist()) == red.srgb


def test_a_printed_look_is_that_of_the_stack_on_its_cloth() -> None:
    films, cloth = [(find_ink("white"), 1.0), (find_ink("red"), 2.0)], np.full(31, 0.03)
    assert printed_look(films, cloth) == look_of(printed_reflectance(films, cloth))
    assert printed_look([], cloth) == look_of(cloth)


def test_a_strip_holds_the_share_that_was_asked_for_and_keeps_the_others_in_proportion() -> None:
    white, yellow, red = (find_ink(name) for name in ("white", "yellow", "red"))
    steps = tint_steps([(white, 60.0), (yellow, 33.0), (red, 7.0)])
    assert [step.percent for step in steps] == sorted({*STEPS_PERCENT, 7.0})
    assert [step.percent for step in steps if step.asked] == [7.0]
    ten = next(step for step in steps if step.percent == 10)
    same = mix([(white, 60.0), (yellow, 33.0), (red, 93.0 / 9.0)])
    assert ten.look.lab == pytest.approx(opaque_look(same).lab, abs=1e-9)


def test_a_share_of_the_table_is_asked_for_where_it_stands() -> None:
    steps = tint_steps([(find_ink("white"), 19.0), (find_ink("black"), 1.0)])
    assert [step.percent for step in steps] == list(STEPS_PERCENT)
    assert [step.percent for step in steps if step.asked] == [5.0]


def test_one_ink_alone_has_no_strip() -> None:
    assert tint_steps([(find_ink("white"), 5.0)]) == ()
    assert tint_steps([(find_ink("white"), 0.0), (find_ink("black"), 5.0)]) == ()
