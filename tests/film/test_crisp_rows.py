"""Rows of crisp films, cell by cell, against the whole plane enlarged: bit for bit."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.film.crisp_rows import CrispRows
from sepkit.film.halftone import crisp
from sepkit.film.outline import Upsampler, Window


def plain(coverage, step_x, step_y, window, *, mirror):
    up = Upsampler(coverage, step_x=step_x, step_y=step_y, window=window)
    taps, weights = up.taps_down(0, window.height)
    wide = up.across(int(taps[0, 0]), int(taps[-1, -1]) + 1)
    ink = crisp(up.down(wide, int(taps[0, 0]), taps, weights))
    return np.packbits(ink[:, ::-1] if mirror else ink, axis=1)


@st.composite
def planes(draw):
    """Flat shapes with soft edges, specks and single levels, so that cells are bare, solid, one tint, and edged."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    height, width = draw(st.integers(1, 90)), draw(st.integers(1, 120))
    plane = np.full((height, width), draw(st.sampled_from([0, 255, 128, 1, 254])), np.uint8)
    for _ in range(draw(st.integers(0, 6))):
        top, left = rng.integers(0, height), rng.integers(0, width)
        part = plane[top : top + rng.integers(1, 50), left : left + rng.integers(1, 60)]
        part[...] = rng.choice([0, 255, int(rng.integers(0, 256))])
    if draw(st.booleans()):
        plane[rng.random(plane.shape) < 0.01] = rng.integers(0, 256)
    return plane


@given(
    planes(),
    st.sampled_from([(5 / 12, 5 / 12), (0.3137, 0.41), (1.0, 1.0), (1.7, 2.3), (1 / 24, 0.1)]),
    st.booleans(),
    st.data(),
)
@settings(max_examples=40, deadline=None)
def test_cells_have_the_bits_of_the_whole_plane_enlarged(plane, steps, mirror, data):
    width, height = (max(1, min(260, round(side / step))) for side, step in zip(plane.shape[::-1], steps, strict=True))
    x, y = data.draw(st.integers(0, width - 1)), data.draw(st.integers(0, height - 1))
    window = Window(x, y, width - x, height - y)
    rows = CrispRows(plane, step_x=steps[0], step_y=steps[1], window=window, mirror=mirror)
    cut = data.draw(st.integers(0, window.height))
    got = np.concatenate([rows.band(0, cut), rows.band(cut, window.height)])
    assert np.array_equal(got, plain(plane, *steps, window, mirror=mirror))
