"""The yardstick: a print is judged against what ink can be on its cloth."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.preview.attainable import Attainable
from sepkit.preview.difference import difference_map, difference_stats

BLACK_ART, BLACK_INK = (0, 0, 0), (38, 38, 40)
RED_ART, RED_INK = (226, 40, 40), (214, 52, 48)
CLOTH = (240, 240, 238)


def yardstick() -> Attainable:
    found = Attainable.of({BLACK_ART: BLACK_INK, RED_ART: RED_INK}, CLOTH)
    assert found is not None
    return found


def picture(*colours: tuple[int, int, int]) -> np.ndarray:
    return np.repeat(np.array(colours, np.uint8)[None], 4, axis=0)


def test_a_print_with_all_its_inks_loses_nothing_and_says_once_what_none_can_do() -> None:
    art, printed = picture(BLACK_ART, RED_ART, CLOTH), picture(BLACK_INK, RED_INK, CLOTH)
    plain, judged = difference_stats(art, printed), difference_stats(art, printed, attainable=yardstick())
    assert plain.mean_de00 > 3 and judged.mean_de00 < 0.5
    assert judged.unreachable_de00 == pytest.approx(plain.mean_de00, abs=0.5)
    assert difference_map(art, printed, yardstick()).max() < 0.5


def test_what_a_plan_loses_is_seen_in_full() -> None:
    art, printed = picture(BLACK_ART, RED_ART), picture(BLACK_INK, BLACK_INK)
    far = difference_map(art, printed, yardstick())
    away = float(delta_e_2000(srgb8_to_lab(np.array(RED_INK)), srgb8_to_lab(np.array(BLACK_INK))))
    assert far[0, 0] < 0.5 and far[0, 1] == pytest.approx(away, abs=1)


def test_nothing_known_is_judged_against_the_art() -> None:
    assert Attainable.of({}, CLOTH) is None
