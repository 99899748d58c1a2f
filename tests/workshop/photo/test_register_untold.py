"""A screen whose register cannot be told: why, and what helps depends on whether its films carry check discs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sepkit.reading.edges import Lines
from sepkit.reading.spots import Spots
from sepkit.reading.told import ToldScreen
from sepkit.reading.wedge import WedgeFigures
from sepkit.workshop.photo.findings import inspection_findings
from sepkit.workshop.photo.wedge import _together

WHY = "nothing of it shows on what it prints on"
BASE = ToldScreen("base", 0.0, 0.0, 0.0, 0.0, 0.0, None, 0.1, True, 8)
WHITE = ToldScreen("white", None, None, None, 0.2, 0.0, None, 0.1, False, 0, WHY)


@pytest.mark.parametrize(("discs", "words"), [(8, "loupe"), (0, "--check-discs")])
def test_what_helps(discs: int, words: str) -> None:
    screens = (replace(BASE, discs=discs), WHITE)
    lines, spots = Lines((), (None, None)), Spots((), 0.0, 0.0)
    told = inspection_findings(screens, (), [lines], [spots], None, 0.3)
    (found,) = [finding for finding in told if finding.code == "register-not-told"]
    assert WHY in found.text and words in (found.hint or "")


def test_a_wedge_is_told_the_band_of_the_photographs_that_tell_its_register() -> None:
    told = WedgeFigures((), (), (), (), None, None, (0.1, 0.2), 0.05)
    untold = replace(told, register_mm=None, register_band_mm=24.8)
    both, none = _together([told, untold]), _together([untold])
    assert (both.register, both.register_band_mm) == (((0.1, 0.2),), 0.05)
    assert (none.register, none.register_band_mm) == ((), None)
    assert [one.code for one in both.findings] == ["register-not-read"]
