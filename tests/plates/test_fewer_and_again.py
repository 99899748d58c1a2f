"""Areas joined and merged; a print decided again with what was kept is the print decided afresh."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.coverage.keep import Keep
from sepkit.decisions import AreaWish
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import InkArea, Size
from sepkit.plates.overprint_plan import decide_plates
from sepkit.workshop.print.options import PrintOptions, bench_of
from tests.helpers.fewer import joined, merged
from tests.plates.test_fast_as_plain import art

COLOURS = ((214, 60, 44), (244, 201, 93), (47, 158, 148), (40, 60, 160))


def areas_of(seed: int) -> tuple[InkArea, ...]:
    planes = art(seed, 4)
    found = (InkArea(rgb, plane) for rgb, plane in zip(COLOURS, planes, strict=True))
    return tuple(area for area in found if area.coverage.any())


def test_merging_adds_up_and_leaves_the_rest():
    areas = areas_of(5)
    got = merged(areas, areas[0].srgb, areas[1].srgb)
    assert [area.srgb for area in got] == [area.srgb for area in areas[1:]]
    both = areas[0].coverage.astype(int) + areas[1].coverage
    assert (got[0].coverage == np.minimum(both, 255)).all()
    assert all(area is was for area, was in zip(got[1:], areas[2:], strict=True))


def test_what_is_joined_are_whole_areas_each_in_one_ink():
    areas = areas_of(5)
    got = joined(areas, (255, 0, 255), len(areas) - 1)  # a cloth that no ink is near
    assert len(got) == len(areas) - 1
    left = set(range(len(areas)))
    for one in got:
        own = next(
            some
            for count in range(1, len(areas) + 1)
            for some in combinations(sorted(left), count)
            if (np.minimum(sum(areas[k].coverage.astype(int) for k in some), 255) == one.coverage).all()
        )
        left -= set(own)
        if len(own) == 1:
            assert one.coverage is areas[own[0]].coverage  # known again by what was kept
    assert len(left) <= 1  # the least may stay open


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 1 << 30), st.lists(st.integers(0, 6), min_size=1, max_size=4))
def test_again_is_afresh(seed, changes):
    areas = areas_of(seed)
    if not areas:
        return
    plain = bench_of(PrintOptions(art=None, garment="black tee", width_mm=20), Shelf())
    size = Size(16.0, 16.0 * 230 / 190)
    session = replace(plain, keep=Keep(1 << 26))
    decide_plates(areas, size, session)
    first = areas[0].srgb
    wishes = [
        plain.wishes,
        replace(plain.wishes, areas={first: AreaWish(ink=Shelf().ink("green"))}),
        replace(plain.wishes, areas={first: AreaWish(coats=2)}),
        replace(plain.wishes, areas={first: AreaWish(base="never")}),
        replace(plain.wishes, choke_mm=0.2),
        replace(plain.wishes, trap_mm=0.2),
        replace(plain.wishes, order=tuple(area.srgb for area in areas[::-1])),
    ]
    for change in changes:
        again = decide_plates(areas, size, replace(session, wishes=wishes[change])).plates
        afresh = decide_plates(areas, size, replace(plain, keep=Keep(0), wishes=wishes[change])).plates
        assert [plate.name for plate in again] == [plate.name for plate in afresh]
        for one, other in zip(again, afresh, strict=True):
            assert (one.printed == other.printed).all() and (one.coverage == other.coverage).all()
            assert (one.mesh, one.coats, one.round, one.trap_mm) == (
                other.mesh,
                other.coats,
                other.round,
                other.trap_mm,
            )


def test_colours_that_are_not_there_are_refused():
    with pytest.raises(KeyError):
        merged(areas_of(5), (1, 2, 3), COLOURS[0])
