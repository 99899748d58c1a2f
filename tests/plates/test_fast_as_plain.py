"""Geometry that looks only where it must gives what the plain way gives, bit for bit, on random art.

The plain way takes distances everywhere, as the definitions in the modules say it.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw
from scipy.ndimage import distance_transform_edt, uniform_filter

from sepkit.coverage import windows
from sepkit.coverage.bitmaps import within
from sepkit.coverage.keep import Keep
from sepkit.coverage.openings import taken_at
from sepkit.coverage.reach import choke, choke_on_bare, opened, spread
from sepkit.coverage.strokes import thin_share, thin_strokes
from sepkit.coverage.sums import summed
from sepkit.plates import base as base_module
from sepkit.plates.base import BaseArea, build_base, under_traps
from sepkit.plates.rounds import distances_mm
from sepkit.plates.traps import trapped
from tests.helpers.bases import thin_of
from tests.helpers.plain_reach import plain_nearer

SEEDS = st.integers(0, 1 << 30)


def art(seed: int, inks: int, shape: tuple[int, int] = (230, 190)) -> list[np.ndarray]:
    """Overlapping shapes, hairlines and specks of some inks with smooth edges, side by side as a separation gives."""
    rng = np.random.default_rng(seed)
    big = Image.new("L", (shape[1] * 4, shape[0] * 4), 0)
    pen = ImageDraw.Draw(big)
    for _ in range(int(rng.integers(4, 30))):
        ink = int(rng.integers(0, inks + 1))
        x, y = (int(v) for v in rng.integers(0, 900, 2))
        r = int(rng.integers(2, 260))
        kind = rng.integers(0, 4)
        if kind == 0:
            pen.ellipse((x - r, y - r, x + r, y + r), fill=ink)
        elif kind == 1:
            pen.rectangle((x - r, y - r // 4, x + r, y + r // 4), fill=ink)
        elif kind == 2:
            x2, y2 = (int(v) for v in rng.integers(0, 900, 2))
            pen.line((x, y, x2, y2), fill=ink, width=int(rng.integers(1, 40)))
        else:
            pen.ellipse((x - 12, y - 12, x + 12, y + 12), fill=ink)
    labels = np.asarray(big)
    return [np.array(Image.fromarray((labels == ink).astype(np.uint8) * 255).reduce(4)) for ink in range(1, inks + 1)]


def tone_of(seed: int, plane: np.ndarray) -> np.ndarray:
    """A window of the plane made a gradient; its mask."""
    rng = np.random.default_rng(seed + 1)
    y, x = (int(v) for v in rng.integers(0, 120, 2))
    mask = np.zeros(plane.shape, bool)
    mask[y : y + 90, x : x + 70] = True
    mask &= plane > 0
    ramp = np.broadcast_to(np.linspace(20, 250, plane.shape[1]), plane.shape)
    plane[mask] = (plane[mask] * (ramp[mask] / 255)).astype(np.uint8)
    return mask & (plane > 0)


def plain_trap(plane, darker, trap_px, tone, darker_tones):
    def as_print(p, t):
        return p if t is None else np.where(t & (p >= 64), np.uint8(255), p)

    over = summed([plane, *darker])
    grown = np.minimum(spread(plane, trap_px, tone=tone), over)
    new = np.where(grown > plane, np.uint8(255), np.uint8(0))
    if not new.any():
        return plane
    shape = as_print(plane, tone)
    covered = summed([shape, *(as_print(p, t) for p, t in zip(darker, darker_tones, strict=True))])
    half_way = plain_nearer(shape, 255 - covered, 2 * trap_px + 2)
    return np.maximum(plane, np.minimum(grown, np.maximum(half_way, plane)))


def plain_run_on(planes, traps, hidden):
    out = np.zeros_like(planes[0])
    for based, over in hidden:
        out = np.maximum(out, np.minimum(traps[based], summed([planes[based], planes[over]])))
    return out


def plain_base(needing, own, others, choke_px, run_on):
    union = summed([a.coverage for a in [*needing, *own]])
    masks = [a.tone for a in [*needing, *own] if a.tone is not None]
    tone = np.logical_or.reduce(masks) & (union > 0) if masks else None
    printed = summed([union, *others])

    def inner(share=1.0):
        return choke_on_bare(printed, share * choke_px, tone=tone)

    drawn_in = np.minimum(union, inner())
    lost = (union > 127) & (spread(drawn_in, 1.5 * choke_px + 1, tone=tone) < 128)
    thin = np.where(lost, np.uint8(255), np.uint8(0))
    if lost.any():
        half = np.where(lost, np.minimum(union, inner(0.5)), np.uint8(0))
        still = lost & (spread(half, 0.75 * choke_px + 1) < 128)
        drawn_in = np.maximum(drawn_in, np.maximum(half, np.where(still, union, np.uint8(0))))
    for area in own:
        drawn_in = np.maximum(drawn_in, np.minimum(area.coverage, union))
    least = min(a.fine_choke for a in needing)
    under = np.minimum(run_on, inner())
    if least >= 1:
        return np.maximum(drawn_in, under), thin
    step = max(1, round(choke_px))
    height, width = union.shape

    def about(plane):
        pad = ((0, -height % step), (0, -width % step))
        blocks = np.pad(plane, pad).reshape(-(-height // step), step, -(-width // step), step)
        return uniform_filter(blocks.mean(axis=(1, 3), dtype=np.float32), base_module.FINE_WINDOW, mode="constant")

    worn = (about(union) > 0) & (about(drawn_in) < (1 - base_module.FINE_LOSS) * about(union))
    worn = np.repeat(np.repeat(worn, step, axis=0), step, axis=1)[:height, :width]
    wide = spread(255 - spread(printed, choke_px), choke_px + 1)
    specks = np.where((printed < 128) & (wide < 128), np.uint8(255), np.uint8(0))
    holed = worn | (spread(specks, choke_px + 1) > 0) if least <= base_module.HOLE_SHARE else worn
    kept = drawn_in
    for area in needing:
        if area.fine_choke < 1:
            here = np.minimum(union, inner(area.fine_choke)) if area.fine_choke else union
            near = (holed if area.fine_choke <= base_module.HOLE_SHARE else worn) & (area.coverage > 0)
            here = np.where(near, here, np.uint8(0))
            thin[here > kept] = 255
            kept = np.maximum(kept, here)
    return np.maximum(kept, under), thin


@settings(max_examples=40, deadline=None)
@given(SEEDS, st.floats(0.6, 9), st.booleans())
def test_traps(seed, trap_px, toned):
    planes = art(seed, 3)
    tones = [tone_of(seed, planes[0]) if toned else None, None, None]
    got = trapped(planes, lightness=[90, 60, 20], trap_px=trap_px, tones=tones)
    assert (got[0] == plain_trap(planes[0], planes[1:], trap_px, tones[0], tones[1:])).all()
    assert (got[1] == plain_trap(planes[1], planes[2:], trap_px, tones[1], tones[2:])).all()
    assert got[2] is planes[2]


@settings(max_examples=40, deadline=None)
@given(SEEDS, st.floats(0.6, 9), st.booleans(), st.sampled_from([0.0, 0.2, 0.5, 1.0]), st.integers(0, 1))
def test_base(seed, choke_px, toned, share, own):
    planes = art(seed, 4)
    tone = tone_of(seed, planes[0]) if toned else None
    needing = [BaseArea(planes[0], tone, share), BaseArea(planes[1], None, min(1.0, share + 0.3))]
    white = [BaseArea(planes[2])][:own]
    traps = trapped(planes, lightness=[90, 70, 50, 20], trap_px=3.3, tones=[tone, None, None, None])
    tones, hidden = [None] * 4, [(1, 3), (0, 3)] if tone is None else [(1, 3)]
    run_on = plain_run_on(planes, traps, hidden)
    printed, thin = plain_base(needing, white, planes[3:], choke_px, run_on)
    for plane in planes:
        plane.setflags(write=False)
    with Keep(1 << 28).used():
        for _ in range(2):  # the second time from what was kept
            under = under_traps(planes, traps, tones, hidden)
            got = build_base(needing, choke_px=choke_px, own_colour=white, others=planes[3:], run_on=under)
            assert (got.printed == printed).all()
            assert (thin_of(got) == thin).all()


@settings(max_examples=45, deadline=None)
@given(SEEDS, st.floats(0.05, 1.2), st.sampled_from([60.0, 110.0, 150.0]))
def test_thin_strokes(seed, least_mm, dpi):
    plane = art(seed, 1)[0]
    solid = np.where(plane > 127, np.uint8(255), np.uint8(0))
    thin = (solid > 0) & (opened(solid, max(least_mm * dpi / 25.4 / 2, 0.51)) < 64)
    want = thin.sum() / max((solid > 0).sum(), 1)
    assert thin_share(plane, least_mm=least_mm, dpi=dpi) == want
    assert (taken_at(solid > 0, solid > 0, max(least_mm * dpi / 25.4 / 2, 0.51)) == thin).all()


@settings(max_examples=12, deadline=None)
@given(SEEDS, st.floats(0.1, 1.2), st.sampled_from([60.0, 150.0]))
def test_thin_strokes_in_windows(seed, least_mm, dpi):
    """What a window is known by leaves nothing out: a plane, then the same with a change in one place."""
    plane = art(seed, 1)[0]
    other = plane.copy()
    other[90:120, 60:90] = plane[20:50, 100:130]
    whole = [thin_strokes(one, least_mm=least_mm, dpi=dpi) for one in (plane, other)]
    with pytest.MonkeyPatch.context() as patch, Keep(1 << 28, lasting=True).used():
        patch.setattr(windows, "WINDOW_PX", 48)
        for one, (mask, parts) in zip((plane, other), whole, strict=True):
            found, places = thin_strokes(one, least_mm=least_mm, dpi=dpi)
            assert (found == mask).all() and places == parts


@settings(max_examples=30, deadline=None)
@given(SEEDS, st.floats(0.1, 20), st.integers(1, 140), st.integers(1, 140))
def test_what_lies_within_reach(seed, reach_px, height, width):
    mask = np.random.default_rng(seed).random((height, width)) < 0.01
    away = distance_transform_edt(~mask) if mask.any() else np.full(mask.shape, np.inf)
    assert (within(mask, reach_px) == (away <= reach_px)).all()


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.floats(0.6, 9))
def test_only_where_asked(seed, distance_px):
    plane = art(seed, 1)[0]
    only = np.zeros(plane.shape, bool)
    only[40:90, 30:60] = True
    for work in (spread, choke, choke_on_bare):
        assert (work(plane, distance_px, only=only)[only] == work(plane, distance_px)[only]).all()


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_distances_of_planes(seed):
    planes = art(seed, 2)
    step, dpi = 6, 304.8
    cells = []
    for plane in planes:
        rows = np.maximum.reduceat(plane, np.arange(0, plane.shape[0], step), axis=0)
        cells.append(np.maximum.reduceat(rows, np.arange(0, plane.shape[1], step), axis=1) >= 26)
    got = distances_mm(planes, dpi=dpi, most_mm=9.0)[0, 1]
    if cells[0].any() and cells[1].any():
        least = max(0.0, float(distance_transform_edt(~cells[0])[cells[1]].min()) - 2**0.5) * step * 25.4 / dpi
        assert got == pytest.approx(least if least <= 9.0 else np.inf)
    else:
        assert got == np.inf


@settings(max_examples=12, deadline=None)
@given(SEEDS, st.floats(0.3, 7), st.booleans())
def test_bare_garment_beyond_the_border_is_as_if_it_were_drawn(seed, choke_px, toned):
    plane = np.maximum.reduce(art(seed, 2))
    plane[:3] = 255  # ink up to the border, whatever was drawn
    tone = tone_of(seed, plane) if toned else None
    pad = int(np.ceil(choke_px)) + 2
    wide = choke(np.pad(plane, pad), choke_px, tone=None if tone is None else np.pad(tone, pad))
    assert np.array_equal(choke_on_bare(plane, choke_px, tone=tone), wide[pad:-pad, pad:-pad])
