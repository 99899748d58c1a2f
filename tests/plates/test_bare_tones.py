"""What a separation leaves open as near the cloth's colour: printed where it is a part of the tones beside it."""

from __future__ import annotations

import numpy as np

from sepkit.model import InkArea
from sepkit.plates.tonal.calm import calmed
from sepkit.plates.tonal.screens import Picture, _bare_tones

SIDE = 60


def picture_of(grey: np.ndarray, bare: np.ndarray) -> tuple[Picture, np.ndarray]:
    """A picture of which ``bare`` is no area and no tone, all else is tone; and it calmed."""
    seen = np.repeat(np.rint(grey).astype(np.uint8)[..., None], 3, 2)
    plane = np.where(bare, 0, 255).astype(np.uint8)
    area = InkArea((120, 120, 120), plane, ~bare)
    return Picture(seen, np.ones_like(bare), ~bare, (area,)), calmed(seen)


def ramp() -> np.ndarray:
    return np.tile(np.linspace(110.0, 236.0, SIDE), (SIDE, 1))


def test_the_light_end_of_a_ramp_is_a_tone() -> None:
    bare = ramp() > 218
    picture, calm = picture_of(ramp(), bare)
    assert (_bare_tones(picture, [], calm) == bare).all()


def test_a_light_colour_behind_an_edge_stays_open() -> None:
    grey = np.where(ramp() > 190, 236.0, ramp() - 40)
    bare = grey > 218
    picture, calm = picture_of(grey, bare)
    assert not _bare_tones(picture, [], calm).any()


def test_paper_round_a_wash_stays_open_however_softly_it_fades() -> None:
    y, x = np.mgrid[:SIDE, :SIDE] - SIDE / 2
    grey = 230 - 110 * np.exp(-((x * x + y * y) / 180.0))
    bare = grey > 222
    picture, calm = picture_of(grey, bare)
    assert not _bare_tones(picture, [], calm).any()


def test_what_is_transparent_is_never_printed() -> None:
    bare = ramp() > 218
    picture, calm = picture_of(ramp(), bare)
    clear = Picture(picture.seen, ~bare, picture.tone, picture.areas)
    assert not _bare_tones(clear, [], calm).any()
