"""A screen whose register cannot be told: why, and what helps depends on whether its films carry check discs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sepkit.reading.edges import Lines
from sepkit.reading.spots import Spots
from sepkit.reading.told import ToldScreen
from sepkit.workshop.photo.findings import inspection_findings

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
