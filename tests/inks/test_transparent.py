"""Which inks are for overprints, and which merely hide little."""

from __future__ import annotations

import pytest

from sepkit.inks.identify import ink_from_swatch
from sepkit.inks.transparent import is_process, is_transparent


@pytest.mark.parametrize("srgb", [(250, 250, 248), (200, 40, 50), (240, 200, 40)])
def test_a_semi_pot_is_mixed_from_and_a_transparent_one_is_for_overprints(srgb: tuple[int, int, int]) -> None:
    semi, clear = (ink_from_swatch("pot", srgb, opacity=word) for word in ("semi", "transparent"))
    assert is_transparent(semi) and not is_process(semi)
    assert is_process(clear)
