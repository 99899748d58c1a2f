from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.coverage.reach import choke, spread
from sepkit.plates.base import BaseArea, _joined, build_base, lightened
from sepkit.plates.traps import tone_traps, trapped
from tests.helpers.bases import based, thin_of

SOLID = np.uint8(255)


def halves(width: int = 80) -> tuple[np.ndarray, np.ndarray]:
    """A light ink on the left and a dark one on the right, on bare garment all round."""
    light, dark = np.zeros((60, width), np.uint8), np.zeros((60, width), np.uint8)
    light[15:45, 15:40] = SOLID
    dark[15:45, 40:65] = SOLID
    return light, dark


def test_the_lighter_grows_under_the_darker_only() -> None:
    light, dark = halves()
    new_light, new_dark = trapped([light, dark], lightness=[80, 20], trap_px=4)
    assert (new_dark == dark).all()
    assert (new_light[30, 40:44] == SOLID).all()
    assert new_light[30, 45:].max() == 0
    assert (new_light[:15] == light[:15]).all(), "no growth onto bare garment"
    swapped = trapped([light, dark], lightness=[20, 80], trap_px=4)
    assert (swapped[0] == light).all()
    assert (swapped[1] > dark).any()


def test_a_trap_stops_half_way_through_a_thin_dark_line() -> None:
    light, dark = np.zeros((60, 80), np.uint8), np.zeros((60, 80), np.uint8)
    light[15:45, 15:40] = SOLID
    dark[15:45, 40:46] = SOLID
    grown = trapped([light, dark], lightness=[80, 20], trap_px=8)[0]
    assert grown[30, 41] == SOLID
    assert grown[30, 44:].max() == 0


def test_dark_lines_overprint_when_asked_and_large_dark_areas_do_not() -> None:
    light, dark = np.zeros((80, 120), np.uint8), np.zeros((80, 120), np.uint8)
    light[10:70, 10:60] = SOLID
    dark[10:70, 30:36] = SOLID
    dark[10:70, 60:110] = SOLID
    light[dark > 0] = 0
    knocked = trapped([light, dark], lightness=[80, 20], trap_px=2)[0]
    assert knocked[40, 33] == 0
    over = trapped([light, dark], lightness=[80, 20], trap_px=2, overprint_px=8)[0]
    assert (over[40, 30:36] == SOLID).all(), "the line prints over the light ink"
    assert over[40, 64:].max() == 0, "a large dark area stays knocked out but for its trap"
    assert over[10:12, 32:34].max() < 128, "the line's end at the garment keeps the trap's distance"
    outline = np.zeros((80, 120), np.uint8)
    outline[10:70, 60:66] = SOLID
    edge = trapped([light, outline], lightness=[80, 20], trap_px=2, overprint_px=8)[0]
    assert edge[40, 63] == SOLID
    assert edge[40, 64:].max() < 128, "no light ink shows beyond an outline"


def test_no_trap_when_none_is_asked() -> None:
    light, dark = halves()
    out = trapped([light, dark], lightness=[80, 20], trap_px=0)
    assert out[0] is light
    assert out[1] is dark


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.5, 5))
def test_traps_never_reach_bare_garment(seed: int, trap_px: float) -> None:
    rng = np.random.default_rng(seed)
    labels = np.kron(rng.integers(0, 4, (6, 7)), np.ones((9, 9), int))
    planes = [(labels == k).astype(np.uint8) * SOLID for k in (1, 2, 3)]
    grown = trapped(planes, lightness=[90, 60, 10], trap_px=trap_px)
    garment = labels == 0
    for before, after in zip(planes, grown, strict=True):
        assert (after >= before).all()
        assert after[garment].max(initial=0) == 0


def test_base_is_choked_at_the_garment_and_closed_at_joins() -> None:
    light, dark = halves()
    base = based([light, dark], choke_px=4)
    row = base.printed[30]
    assert row[15:18].max() == 0
    assert row[61:].max() == 0
    assert (row[20:60] == SOLID).all(), "no crack along the join of two based inks"
    assert (base.coverage[30, 15:65] == SOLID).all()


def test_base_is_not_choked_towards_an_ink_that_covers_it() -> None:
    light, dark = halves()
    alone = based([light], choke_px=4)
    assert alone.printed[30, 37:].max() == 0
    beside = based([light], choke_px=4, others=[dark])
    assert (beside.printed[30, 20:40] == SOLID).all()
    assert beside.printed[30, 40:].max() == 0
    assert beside.printed[30, 15:18].max() == 0


def test_base_of_its_own_colour_is_not_choked() -> None:
    light, dark = halves()
    base = based([dark], choke_px=4, own_colour=[light])
    assert base.printed[30, 15] == SOLID
    assert base.printed[30, 63] == 0
    assert (base.printed[30, 15:60] == SOLID).all()


def test_thin_strokes_keep_a_base_and_are_reported() -> None:
    plane = np.zeros((60, 120), np.uint8)
    plane[28:33, 10:110] = SOLID
    plane[5:25, 10:40] = SOLID
    base = based([plane], choke_px=4)
    assert base.printed[30, 60] > 200
    assert thin_of(base)[30, 60] == 255
    assert thin_of(base)[15, 25] == 0
    plain = based([plane], choke_px=1)
    assert thin_of(plain).max() == 0


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.floats(0, 5))
def test_base_stays_inside_what_it_supports(seed: int, choke_px: float) -> None:
    rng = np.random.default_rng(seed)
    labels = np.kron(rng.integers(0, 3, (6, 7)), np.ones((11, 11), int))
    planes = [(labels == k).astype(np.uint8) * SOLID for k in (1, 2)]
    base = based(planes, choke_px=choke_px)
    union = np.maximum(planes[0], planes[1])
    assert (base.printed <= union).all()
    assert (base.coverage == union).all()


def test_a_base_that_fills_the_picture_is_choked_at_its_border() -> None:
    """Outside the picture is bare garment."""
    full = np.full((60, 80), SOLID, np.uint8)
    base = based([full], choke_px=4)
    assert base.printed[:3].max() == 0
    assert base.printed[:, -3:].max() == 0
    assert (base.printed[8:-8, 8:-8] == SOLID).all()


def test_a_lighter_base_is_thin_only_under_inks_that_allow_it() -> None:
    light, dark = halves()
    base = based([light, dark], choke_px=4)
    printed, tint = lightened(base.printed, [light, dark], [1.0, 0.6])
    assert (printed[30, 20:38] == SOLID).all()
    assert (printed[30, 44:58] == 153).all()
    assert (tint == (printed != base.printed)).all()
    assert (printed <= base.printed).all()


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.5, 5))
def test_a_choke_spread_again_stays_within_and_a_spread_choked_again_contains(seed: int, by_px: float) -> None:
    """Opening and closing of mathematical morphology (Serra 1982); a level of rounding is allowed."""
    rng = np.random.default_rng(seed)
    plane = (np.kron(rng.integers(0, 2, (7, 8)), np.ones((10, 10), int)) * 255).astype(np.uint8)
    opened = spread(choke(plane, by_px), by_px).astype(int)
    closed = choke(spread(plane, by_px), by_px).astype(int)
    assert (opened <= plane.astype(int) + 2).all()
    assert (closed >= plane.astype(int) - 2).all()


def test_a_tint_below_a_half_is_trapped_under_a_darker_ink() -> None:
    light, dark = halves()
    tone = light > 0
    light = np.where(tone, np.uint8(110), light)
    grown = trapped([light, dark], lightness=[80, 20], trap_px=4, tones=[tone, None])[0]
    assert (grown[30, 40:44] > 100).all()
    assert grown[30, 46:].max() == 0


@settings(max_examples=40, deadline=None)
@given(st.integers(70, 250), st.integers(1, 5), st.integers(0, 2**16))
def test_traps_of_tones_are_dots_as_strong_as_the_tone_beside_them(level: int, trap_px: int, seed: int) -> None:
    light, dark = halves()
    tone = light > 0
    fade = np.linspace(level, level - 6, 80).astype(np.uint8)[None].repeat(60, axis=0)
    light = np.where(tone, fade, light)
    grown = trapped([light, dark], lightness=[80, 20], trap_px=trap_px, tones=[tone, None])[0]
    solved = np.where(tone, np.random.default_rng(seed).integers(1, 255, light.shape), grown).astype(np.uint8)
    printed, mask = tone_traps(light, grown, solved, tone, reach_px=trap_px + 1)
    new = (grown > light) & ~tone
    assert new.any() and (mask == (tone | new)).all(), "the film screens them too"
    assert (printed[tone] == solved[tone]).all() and (printed[~mask] == solved[~mask]).all()
    assert (printed[20:40, 40] == solved[20:40, 39]).all(), "no step where the tone runs on"


def test_the_trap_of_a_solid_part_of_a_toned_plate_stays_solid() -> None:
    light, dark = halves()
    tone = np.zeros(light.shape, bool)
    tone[15:45, 15:20] = True
    grown = trapped([light, dark], lightness=[80, 20], trap_px=4, tones=[tone, None])[0]
    printed, mask = tone_traps(light, grown, grown, tone, reach_px=5)
    assert (mask == tone).all() and (printed == grown).all()


def worn(seed: int = 1) -> np.ndarray:
    """A square of ink whose wear, specks about 5 px apart, lies on its left half."""
    art = np.zeros((120, 160), np.uint8)
    art[10:110, 10:150] = 255
    rng = np.random.default_rng(seed)
    for y, x in zip(rng.integers(12, 108, 190), rng.integers(12, 80, 190), strict=True):
        art[y : y + 2, x : x + 2] = 0
    return art


def test_worn_texture_keeps_the_base_of_an_ink_that_is_worth_no_choke() -> None:
    art = worn()
    left = (slice(20, 100), slice(15, 70))
    plain = based([art], choke_px=5).printed
    fine = based([art], choke_px=5, fine_choke=[0.0])
    assert plain[left].sum() < 0.4 * art[left].sum()
    assert fine.printed[left].sum() > 0.95 * art[left].sum()
    assert (thin_of(fine)[left] > 0).mean() > 0.4
    edge = (slice(30, 90), slice(100, 160))
    assert (fine.printed[edge] == plain[edge]).all(), "an edge of a large shape is choked as ever"


def test_a_choke_that_is_worth_most_of_the_error_stays_most_of_it_in_texture() -> None:
    art = worn()
    plain = based([art], choke_px=5).printed.sum()
    most = based([art], choke_px=5, fine_choke=[0.9]).printed.sum()
    none = based([art], choke_px=5, fine_choke=[0.0]).printed.sum()
    assert plain <= most < plain + 0.25 * (none - plain)


def test_a_pinhole_has_no_rim_in_an_ink_near_the_base() -> None:
    art = np.full((80, 80), 255, np.uint8)
    art[39:42, 39:42] = 0
    art[10:30, 10:30] = 0  # a hole wider than two chokes is garment and is choked
    near = based([art], choke_px=5, fine_choke=[0.0]).printed
    far = based([art], choke_px=5, fine_choke=[0.8]).printed
    rim = (slice(35, 46), slice(35, 46))
    assert (near[rim] == art[rim]).all()
    assert far[rim].sum() < 1000, "but for the corners"
    assert near[20, 31:34].sum() == 0


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 1.0))
def test_a_fine_choke_lies_between_the_choke_and_none(seed: int, share: float) -> None:
    art = worn(seed)
    plain = based([art], choke_px=4).printed
    fine = based([art], choke_px=4, fine_choke=[share]).printed
    assert (fine >= plain).all() and (fine <= art).all()


def test_places_of_several_lists_are_told_once_and_in_order() -> None:
    some = [np.array(one, np.uint32) for one in ([7, 9], [2, 7, 40], [], [9])]
    assert _joined(some).tolist() == [2, 7, 9, 40]
    assert _joined(some[2:3]).tolist() == []


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 0.9))
def test_strokes_that_kept_less_are_told_once_and_in_order(seed: int, share: float) -> None:
    thin = build_base([BaseArea(worn(seed), fine_choke=share)], choke_px=4).kept_thin
    assert len(thin) and (np.diff(thin.astype(np.int64)) > 0).all()
