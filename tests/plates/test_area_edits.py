"""Changes by hand on the areas of a separation: what goes where, and what finds nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sepkit.decisions import AreaEdit, AreaWish, PartEdit, PrintEdits, Wishes
from sepkit.model import InkArea, Size
from sepkit.plates.edits import edited, part_at

RED, BLUE, SUN = (200, 40, 40), (30, 60, 160), (244, 201, 93)
SIZE = Size(12.0, 8.0)


def areas_of(shares):
    """Return areas whose shares of a pixel sum to at most solid."""
    left = np.full(shares[0].shape, 255, np.uint8)
    out = []
    for srgb, share in zip((RED, BLUE, SUN), shares, strict=True):
        plane = np.minimum(share, left)
        left = left - plane
        out.append(InkArea(srgb, plane))
    return out


SHARES = st.lists(arrays(np.uint8, (8, 12)), min_size=3, max_size=3)


@settings(deadline=None)
@given(SHARES)
def test_areas_that_print_together_hold_all_their_coverage(shares):
    areas = areas_of(shares)
    out = edited(areas, SIZE, Wishes(), PrintEdits((AreaEdit(RED, into=BLUE), AreaEdit(BLUE, into=SUN))))
    total = np.sum([area.coverage.astype(int) for area in areas], axis=0)
    assert [area.srgb for area in out.areas] == ([SUN] if total.any() else [])
    if out.areas:
        assert np.array_equal(out.areas[0].coverage, total)


@settings(deadline=None)
@given(SHARES, st.floats(0, 12), st.floats(0, 8))
def test_a_moved_part_leaves_the_sum_of_all_areas(shares, right, down):
    areas = areas_of(shares)
    out = edited(areas, SIZE, Wishes(), PrintEdits(parts=(PartEdit((right, down), RED, BLUE),)))
    before = np.sum([area.coverage.astype(int) for area in areas], axis=0)
    after = np.sum([np.zeros((8, 12), int), *(area.coverage.astype(int) for area in out.areas)], axis=0)
    assert np.array_equal(before, after)
    assert len(out.applied) + len(out.missed) == 1


@settings(deadline=None)
@given(arrays(np.bool_, (20, 30)), st.integers(0, 19), st.integers(0, 29))
def test_a_part_is_what_an_outside_library_calls_connected(solid, row, column):
    """Against scikit-image's label, neighbours by side or corner."""
    from skimage.measure import label

    found = part_at(np.where(solid, 255, 0).astype(np.uint8), (column + 0.5, row + 0.5), per_mm=1.0)
    if solid[row, column]:  # at its own middle the pixel is the nearest
        labels = label(solid.astype(np.uint8), connectivity=2)
        assert np.array_equal(found, labels == labels[row, column])
    elif not solid[max(0, row - 1) : row + 2, max(0, column - 1) : column + 2].any():
        assert found is None


def test_two_bodies_that_only_soft_edges_join_are_two_parts():
    plane = np.zeros((9, 21), np.uint8)
    plane[2:7, 2:9] = plane[2:7, 12:19] = 255
    plane[4, 9:12] = 60
    found = part_at(plane, (5.0, 4.5), per_mm=1.0)
    assert found[2:7, 2:9].all()
    assert not found[2:7, 12:19].any()
    assert found[4, 9]


def test_open_areas_and_wishes():
    plane = np.full((8, 12), 80, np.uint8)
    areas = [InkArea(colour, plane) for colour in (RED, BLUE, SUN)]
    edits = PrintEdits(
        (AreaEdit(RED, open=True), AreaEdit(BLUE, AreaWish(coats=2)), AreaEdit((1, 2, 3), AreaWish(name="moss"))),
        (PartEdit((1.0, 1.0), (9, 9, 9), RED),),
        (SUN, RED),
        choke_mm=0.2,
        trap_mm=0.4,
    )
    out = edited(areas, SIZE, Wishes(trap_mm=0.1, areas={BLUE: AreaWish(base="never")}), edits)
    assert [area.srgb for area in out.areas] == [BLUE, SUN]
    assert (out.wishes.areas[BLUE].coats, out.wishes.areas[BLUE].base) == (2, "never")
    assert out.wishes.order == (SUN,)
    assert (out.wishes.trap_mm, out.wishes.choke_mm) == (0.1, 0.2)
    assert out.missed == (
        "part of #090909 at 1, 1 mm printed with #c82828",
        "#010203 called moss",
        "#c82828 in the order",
    )
    assert [finding.code for finding in out.findings] == ["edit-missed"] * 3


def test_tone_goes_with_its_part_and_ends_where_ink_comes_to_be_solid():
    tone = np.zeros((8, 12), bool)
    tone[:, :6] = True
    left = np.where(tone, 100, 0).astype(np.uint8)
    solid = np.zeros((8, 12), np.uint8)
    solid[:4] = 155
    out = edited(
        [InkArea(RED, left, tone), InkArea(BLUE, solid)],
        SIZE,
        Wishes(),
        PrintEdits(parts=(PartEdit((1, 1), RED, BLUE),)),
    )
    (blue,) = out.areas
    assert blue.coverage[0, 0] == 255
    assert blue.tone is not None
    assert np.array_equal(blue.tone, tone & (np.arange(8) >= 4)[:, None])


@pytest.mark.parametrize("place", [(-3.0, 2.0), (400.0, 2.0), (6.0, 90.0)])
def test_a_place_beside_the_art_has_no_part(place):
    assert part_at(np.full((8, 12), 255, np.uint8), place, per_mm=1.0) is None
