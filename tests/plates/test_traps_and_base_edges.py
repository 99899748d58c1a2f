"""Traps and bases pixel by pixel: tones, strokes near the limit, traps that carry a base, widths worked out by hand.

A pixel of coverage c puts its edge (c - 1/2) px beyond its centre: a solid bar choked by d loses d on each side.
"""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.coverage.sums import raised
from sepkit.plates.base import lightened, under_traps
from sepkit.plates.traps import tone_traps, trapped
from tests.helpers.bases import based, thin_of

SOLID = np.uint8(255)


def bar(left, right, *, value=255, shape=(60, 120), rows=slice(10, 50)):
    plane = np.zeros(shape, np.uint8)
    plane[rows, left:right] = value
    return plane


# The base under tones


def test_a_base_under_a_tone_is_a_tone_of_its_strength_choked_at_its_rim():
    """A glow of 100 prints as dots: it is an edge to choke, though each of its pixels is below a half."""
    glow = bar(20, 80, value=100)
    mask = glow > 0
    base = based([glow], choke_px=4, tones=[mask])
    assert base.printed[30, 16:24].tolist() == [0] * 8
    assert base.printed[30, 24:76].tolist() == [100] * 52
    assert base.printed[30, 76:].max() == 0
    assert base.printed[10:14].max() == 0
    assert thin_of(base).max() == 0
    assert np.array_equal(base.tone, mask)


def test_a_base_is_a_tone_where_any_of_its_inks_is_and_only_where_it_lies():
    left, middle, right = bar(10, 40, value=1), bar(40, 60), bar(60, 90, value=90)
    everywhere, tone_right = bar(0, 50) > 0, right > 0
    base = based([left, middle], choke_px=2, own_colour=[right], tones=[everywhere, None, tone_right])
    ink = (left | middle | right) > 0
    assert np.array_equal(base.tone, (everywhere | tone_right) & ink)
    assert base.tone[30, 20], "the faintest ink counts"
    assert not base.tone[30, 5], "no tone where there is no ink"
    assert not base.tone[30, 55]
    assert based([left], choke_px=2, tones=[None]).tone is None
    assert based([left], choke_px=2).tone is None


def test_a_thin_stroke_of_a_tone_keeps_half_the_choke_too():
    stroke = bar(10, 110, value=140, rows=slice(28, 33))
    base = based([stroke], choke_px=4, tones=[stroke > 0])
    assert base.printed[27:34, 60].tolist() == [0, 0, 0, 140, 0, 0, 0]
    assert thin_of(base)[28:33, 60].tolist() == [255] * 5


# Strokes near the limit


def test_a_stroke_keeps_half_the_choke_where_that_leaves_some_and_all_of_itself_where_not():
    five, three = bar(10, 110, rows=slice(28, 33)), bar(10, 110, rows=slice(28, 31))
    half = based([five], choke_px=4)
    assert half.printed[27:34, 60].tolist() == [0, 0, 0, 255, 0, 0, 0]
    assert thin_of(half)[27:34, 60].tolist() == [0, 255, 255, 255, 255, 255, 0]
    whole = based([three], choke_px=4)
    assert whole.printed[27:32, 60].tolist() == [0, 255, 255, 255, 0]
    for base in (half, whole):
        assert (base.printed <= base.coverage).all()


def test_a_thin_stub_of_an_area_is_kept_from_three_pixels_on():
    """The area's base ends 4 px inside it and vouches for what lies within 1.5 x 4 + 1 px of it: 3 px of the stub."""
    shape = bar(10, 60)
    shape[29:32, 60:100] = SOLID
    base = based([shape], choke_px=4)
    assert thin_of(base)[30, 60:63].tolist() == [0, 0, 0]
    assert thin_of(base)[30, 63:97].tolist() == [255] * 34
    assert base.printed[30, 66:96].tolist() == [255] * 30
    assert (base.printed <= base.coverage).all()


def test_no_choke_is_the_whole_area_and_nothing_thin():
    plane = bar(20, 22)
    base = based([plane], choke_px=0)
    assert np.array_equal(base.printed, plane)
    assert thin_of(base).shape == plane.shape
    assert thin_of(base).dtype == np.uint8
    assert not thin_of(base).any()


@pytest.mark.parametrize("choke_px", [0.6, 3.0])
def test_own_colour_keeps_its_edge_at_any_choke(choke_px):
    own, other = bar(20, 60), bar(60, 100)
    base = based([other], choke_px=choke_px, own_colour=[own])
    assert base.printed[30, 20] == 255
    assert base.printed[30, 99] < 255


# Traps that carry a base


def under_a_dark_ink():
    light, dark, third = bar(20, 60), bar(60, 100), bar(20, 60, rows=slice(50, 58))
    traps = trapped([light, dark, third], lightness=[80, 20, 10], trap_px=4)
    return [light, dark, third], traps


def test_a_base_runs_on_as_far_as_the_trap_under_an_ink_that_hides_it():
    planes, traps = under_a_dark_ink()
    assert traps[0][54, 40] == 0 < traps[0][52, 40], "the light ink has a trap under the third ink too"
    run_on = under_traps(planes, traps, [None] * 3, [(0, 1)])
    where = raised(np.zeros_like(planes[0]), run_on)
    assert where[30, 56:68].tolist() == [0] * 4 + [255] * 4 + [0] * 4, "nothing but the trap"
    assert where[50:].max() == 0, "not under an ink that is not named"
    both = raised(np.zeros_like(planes[0]), under_traps(planes, traps, [None] * 3, [(0, 1), (0, 2)]))
    assert both[52, 40] == 255
    assert both[30, 62] == 255
    base = based([planes[0]], choke_px=3, others=planes[1:], run_on=run_on)
    alone = based([planes[0]], choke_px=3, others=planes[1:])
    assert alone.printed[30, 56:68].tolist() == [255] * 4 + [0] * 8
    assert base.printed[30, 56:68].tolist() == [255] * 8 + [0] * 4
    assert base.printed[10:13].max() == 0, "its end keeps the choke from bare garment"
    assert (base.printed >= alone.printed).all()


def test_dots_hide_no_base():
    planes, traps = under_a_dark_ink()
    dots = np.zeros(planes[0].shape, bool)
    dots[:30] = True
    more = np.zeros(planes[0].shape, bool)
    more[40:] = True
    run_on = raised(np.zeros_like(planes[0]), under_traps(planes, traps, [None, dots, more], [(0, 1)]))
    assert run_on[:30].max() == 0
    assert run_on[40:].max() == 0
    assert run_on[35, 62] == 255


def test_no_traps_are_hidden_where_no_ink_hides_them_or_all_are_dots():
    planes, traps = under_a_dark_ink()
    assert under_traps(planes, traps, [None] * 3, []) == ()
    ((at, values),) = under_traps(planes, traps, [np.ones(planes[0].shape, bool), None, None], [(0, 1)])
    assert len(at) == len(values) == 0


def test_a_base_may_be_thinned_under_several_inks():
    base = based([bar(20, 40), bar(40, 60), bar(60, 80)], choke_px=3)
    printed, tint = lightened(base.printed, [bar(20, 40), bar(40, 60), bar(60, 80)], [0.6, 1.0, 0.8])
    assert (printed[30, 25], printed[30, 50], printed[30, 70]) == (153, 255, 204)
    assert (tint[30, 25], tint[30, 50], tint[30, 70]) == (True, False, True)
    with pytest.raises(ValueError):
        lightened(base.printed, [bar(20, 40)], [0.6, 0.8])


# Traps


def test_a_trap_through_a_line_twice_its_width_is_whole():
    """Half way through 20 px is 10: a trap of 8 is not cut."""
    light, dark = bar(20, 60), bar(60, 80)
    grown = trapped([light, dark], lightness=[80, 20], trap_px=8)[0]
    assert grown[30, 60:72].tolist() == [255] * 8 + [0] * 4


def test_a_trap_under_a_tone_is_as_strong_as_the_tone():
    """Garment between the dots of a tone is no edge that a trap has to turn back from."""
    light, dark = bar(20, 60), bar(60, 100, value=100)
    grown = trapped([light, dark], lightness=[80, 20], trap_px=4, tones=[None, dark > 0])[0]
    assert grown[30, 60:68].tolist() == [100] * 4 + [0] * 4


def test_an_ink_grows_under_no_ink_that_it_is_kept_from():
    light, dark = bar(20, 60), bar(60, 100)
    apart = trapped([light, dark], lightness=[80, 20], trap_px=4, not_under={0: [1]})
    assert np.array_equal(apart[0], light)
    other = trapped([light, dark], lightness=[80, 20], trap_px=4, not_under={1: [0]})
    assert other[0][30, 62] == 255


@pytest.mark.parametrize(("width", "runs_on"), [(7, True), (12, False)])
def test_lines_thinner_than_the_width_asked_overprint(width, runs_on):
    dark = bar(60, 60 + width)
    light = bar(20, 60) | bar(60 + width, 110)
    over = trapped([light, dark], lightness=[80, 20], trap_px=0, overprint_px=8)[0]
    inside = over[30, 60 : 60 + width]
    assert inside.tolist() == [255 if runs_on else 0] * width
    assert (over[:, :60] == light[:, :60]).all()


def test_a_tone_runs_on_under_a_line_at_its_own_strength():
    dark = bar(60, 66)
    light = bar(20, 60, value=100) | bar(66, 110, value=100)
    over = trapped([light, dark], lightness=[80, 20], trap_px=1, overprint_px=8, tones=[light > 0, None])[0]
    assert over[30, 58:68].tolist() == [100] * 10


def test_a_tone_from_a_quarter_on_is_print_to_a_trap_and_a_fainter_one_is_garment():
    for value, reached in ((64, [64] * 3), (63, [0] * 3)):
        light, dark = bar(20, 60), bar(60, 100, value=value)
        grown = trapped([light, dark], lightness=[80, 20], trap_px=4, tones=[None, dark > 0])[0]
        # The first pixel is as near to the ink as to the garment.
        assert grown[30, 61:64].tolist() == reached, value


def test_lines_up_to_two_pixels_overprint_too():
    dark, light = bar(60, 61), bar(20, 60) | bar(61, 110)
    over = trapped([light, dark], lightness=[80, 20], trap_px=0, overprint_px=1.5)[0]
    assert over[30, 60] == 255
    untouched = trapped([light, dark], lightness=[80, 20], trap_px=0, overprint_px=0.9)[0]
    assert untouched[30, 60] == 0


def test_traps_of_tones_are_found_in_every_part_of_a_large_picture():
    """A trap of a solid area, far from any tone, comes first."""
    shape = (60, 900)
    light = np.maximum(bar(20, 60, shape=shape), bar(700, 760, value=100, shape=shape))
    dark = np.maximum(bar(60, 90, shape=shape), bar(760, 790, shape=shape))
    tone = light == 100
    grown = trapped([light, dark], lightness=[80, 20], trap_px=4, tones=[tone, None])[0]
    printed, mask = tone_traps(light, grown, grown, tone, reach_px=5)
    assert mask[30, 760:764].all()
    assert not mask[30, 60:64].any()
    assert printed[30, 760:764].tolist() == [100] * 4
    assert printed[30, 60:64].tolist() == [255] * 4


def test_fine_art_is_found_at_any_picture_size():
    """Blocks of a choke need not fit the picture: bare garment added below and to the right changes nothing."""
    lines = np.zeros((60, 80), np.uint8)
    lines[10:50, 10:70] = SOLID
    lines[10:50:6, 10:40] = 0
    whole = based([lines], choke_px=4, fine_choke=[0.0])
    assert (whole.printed[30:42, 15:35] == lines[30:42, 15:35]).all()
    assert whole.printed[30, 66:].max() == 0, "a plain edge keeps its choke"
    for below, right in ((1, 3), (2, 0), (0, 1)):
        wider = based([np.pad(lines, ((0, below), (0, right)))], choke_px=4, fine_choke=[0.0])
        assert np.array_equal(wider.printed[:60, :80], whole.printed)
        assert np.array_equal(thin_of(wider)[:60, :80], thin_of(whole))
