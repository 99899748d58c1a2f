"""Art that looks the same turned, and art that a small part tells apart from itself turned."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.reading.align import told_apart
from sepkit.reading.mixing import mixed
from sepkit.reading.picture import Photo
from sepkit.reading.subject import PX_PER_MM
from tests.reading.test_geometry import plain_subject

R = 6.0


def ring(dot=False):
    subject = plain_subject((40.0, 40.0))
    side = subject.planes[0].shape[0]
    y, x = (np.mgrid[:side, :side] + 0.5) / PX_PER_MM - 24
    first, second = np.hypot(x, y) < 16, (np.abs(x) < 10) & (np.abs(y) < 3)
    if dot:
        first |= np.hypot(x - 16, y - 16) < 2
    return replace(subject, planes=tuple((one * 255).astype(np.uint8) for one in (first, second)), _levels={})


def places(subject):
    """As it lies in the photograph that ``photographed`` takes, and half a turn round."""
    right = np.array([[R, 0, R * 4 - 0.5], [0, R, R * 4 - 0.5], [0, 0, 1.0]])
    w, h = subject.width_mm, subject.height_mm
    return right, right @ np.array([[-1, 0, w], [0, -1, h], [0, 0, 1.0]])


def photographed(subject):
    return Photo(np.rint(linear_to_srgb(mixed(subject.coarse(R), subject.colours)) * 255).astype(np.uint8))


def test_art_that_looks_the_same_turned_is_not_told_apart():
    subject = ring()
    assert told_apart(subject, photographed(subject), *places(subject), 2.5) is None


def test_a_small_dot_tells_which_way_round_it_lies():
    subject = ring(dot=True)
    right, turned = places(subject)
    photo = photographed(subject)
    first, second = told_apart(subject, photo, right, turned, 2.5)
    assert first > 0.8 > 0.2 > second
    first, second = told_apart(subject, photo, turned, right, 2.5)
    assert second > 0.8 > 0.2 > first
