"""What a separation leaves open as near the cloth's colour: printed where it is a part of the tones beside it."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.model import InkArea
from sepkit.plates.tonal.calm import calmed
from sepkit.plates.tonal.screens import Picture, _bare_tones, _Flat, _left_bare

SIDE = 60


def joined(grey: np.ndarray, bare: np.ndarray, printed: np.ndarray | None = None) -> np.ndarray:
    """What is printed of ``bare``, that is no area and no tone where all else is tone."""
    seen = np.repeat(np.rint(grey).astype(np.uint8)[..., None], 3, 2)
    return _bare_tones(bare, np.ones_like(bare) if printed is None else printed, calmed(seen))


def ramp() -> np.ndarray:
    return np.tile(np.linspace(110.0, 236.0, SIDE), (SIDE, 1))


def test_the_light_end_of_a_ramp_is_a_tone() -> None:
    bare = ramp() > 218
    assert (joined(ramp(), bare) == bare).all()


def test_a_light_colour_behind_an_edge_stays_open() -> None:
    grey = np.where(ramp() > 190, 236.0, ramp() - 40)
    assert not joined(grey, grey > 218).any()
    grey = np.where(ramp() > 190, 236.0, 216.0)  # a step of twenty levels is an edge too
    assert not joined(grey, grey > 218).any()


@pytest.mark.parametrize(("smooth", "is_tone"), [(0.1, False), (0.5, True)])
def test_a_part_is_a_tone_where_enough_of_its_rim_goes_on(smooth: float, is_tone: bool) -> None:
    grey = ramp()
    hard = int(SIDE * (1 - smooth))
    grey[:hard] = np.where(grey[:hard] > 218, 236.0, grey[:hard] - 60)
    bare = ramp() > 218
    assert joined(grey, bare).any() == is_tone


def test_each_part_is_judged_by_itself() -> None:
    grey = ramp()
    bare = ramp() > 218
    squares = np.zeros_like(bare)
    for top in range(4, SIDE - 8, 12):
        squares[top : top + 6, 6:12] = squares[top : top + 6, 18:24] = True
    grey[squares] = 236.0
    assert (joined(grey, bare | squares) == bare).all()


def test_paper_round_a_wash_stays_open_however_softly_it_fades() -> None:
    y, x = np.mgrid[:SIDE, :SIDE] - SIDE / 2
    grey = 230 - 110 * np.exp(-((x * x + y * y) / 180.0))
    assert not joined(grey, grey > 222).any()
    margin = 12
    clear, small = np.zeros((SIDE + 2 * margin, SIDE + 2 * margin), bool), np.full((SIDE + 2 * margin,) * 2, 255.0)
    inner = (slice(margin, -margin), slice(margin, -margin))
    clear[inner], small[inner] = True, grey
    assert not joined(small, (small > 222) & clear, clear).any(), "inside of a transparent margin as well"


@pytest.mark.parametrize(("share", "is_paper"), [(0.3, False), (0.8, True)])
def test_paper_lies_along_most_of_the_outline(share: float, is_paper: bool) -> None:
    x = np.tile(np.arange(SIDE), (SIDE, 1))
    grey = 236 - np.clip((x - share * SIDE) * 3, 0, 120)
    bare = grey > 230
    assert joined(grey, bare).any() != is_paper


def test_what_is_transparent_or_flat_is_never_printed_so() -> None:
    bare = ramp() > 218
    seen, area = np.zeros((SIDE, SIDE, 3), np.uint8), InkArea((120, 120, 120), np.where(bare, 0, 255).astype(np.uint8))
    picture = Picture(seen, np.ones_like(bare), ~bare, (area,))
    assert (_left_bare(picture, []) == bare).all()
    assert not _left_bare(Picture(seen, ~bare, ~bare, (area,)), []).any()
    flat = np.where(ramp() > 230, 255, 0).astype(np.uint8)
    assert (_left_bare(picture, [_Flat((236, 236, 236), flat, 0.1)]) == (bare & (flat == 0))).all()
    clear = np.broadcast_to(np.arange(SIDE) < SIDE - 3, bare.shape)
    assert not (joined(ramp(), bare & clear, clear) & ~clear).any()
