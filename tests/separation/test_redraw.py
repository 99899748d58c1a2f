"""Coarse art drawn again: outlines smooth and within their bound, corners and small parts kept, nothing overlaps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.spatial import cKDTree
from skimage.measure import find_contours

from sepkit.model import Artwork, FlatSeparation, InkArea
from sepkit.separation.redraw import BOUND_PX, redraw_planes
from sepkit.separation.redrawn import redrawn
from tests.benchmarks._art_drawing import Sheet, fonts
from tests.benchmarks._art_flat import compressed

FACTOR = 4
COLOURS = np.array([(200, 40, 40), (20, 60, 160)])


def drawn():
    sheet = Sheet(96, COLOURS, 8)
    sheet.polygon(0, [(10.3, 12.2), (60.1, 15.7), (55.4, 50.8), (12.6, 44.9)])
    sheet.disc(1, 60.4, 60.2, 22)
    sheet.line(0, [(8, 90), (88, 70.5)], 1.6)
    sheet.letters(1, 8, 52, "Oar&", 18, fonts()[0])
    for n in range(6):
        sheet.disc(0, 66 + 5 * n, 8 + 3 * n, 1.2)
    label = sheet.label
    return [label == 1, label == 2]


def coarse(fine, wobble=0.0):
    rng = np.random.default_rng(5)
    share = np.stack([m.reshape(96, 8, 96, 8).mean(axis=(1, 3)) for m in fine])
    mixed = (share > 0) & (share < 1)
    share = np.clip(share + wobble * rng.normal(size=share.shape) * mixed, 0, 1)
    share /= np.maximum(share.sum(axis=0), 1)
    return [np.floor(s * 255).astype(np.uint8) for s in share]


def outline(plane, scale):
    lines = find_contours(plane.astype(float), 127.5)
    step = np.linspace(0, 1, 6, endpoint=False)[:, None, None]
    return np.concatenate([(a[None, :-1] + step * np.diff(a, axis=0)).reshape(-1, 2) for a in lines]) / scale


def walked(points):
    """How long outlines are, jumps between them left out."""
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return step[step < 1].sum()


def as_filmed(plane):
    """The plane as a film draws it, by an independent enlarger (bicubic)."""
    big = Image.fromarray(plane).resize((plane.shape[1] * FACTOR,) * 2, Image.Resampling.BICUBIC)
    return np.asarray(big)


@pytest.mark.parametrize("wobble", [0.0, 0.12])
def test_no_outline_moves_by_more_than_the_bound(wobble):
    planes = coarse(drawn(), wobble)
    for old, new in zip(planes, redraw_planes(planes), strict=True):
        before, after = outline(as_filmed(old), FACTOR), outline(as_filmed(new), FACTOR)
        slack = 1.5 / FACTOR  # where three meet the films draw each for itself; and a fine pixel
        assert cKDTree(before).query(after)[0].max() <= BOUND_PX + slack
        assert np.percentile(cKDTree(before).query(after)[0], 99) <= BOUND_PX
        assert np.percentile(cKDTree(after).query(before)[0], 99) <= BOUND_PX


def test_wobbly_outlines_become_smooth_where_they_were_drawn():
    fine = drawn()
    planes = coarse(fine, 0.12)
    off = {"before": [], "after": []}
    extra = {"before": 0.0, "after": 0.0}
    for mask, old, new in zip(fine, planes, redraw_planes(planes), strict=True):
        true = cKDTree(outline(mask * np.uint8(255), 8))
        for when, plane in (("before", as_filmed(old)), ("after", as_filmed(new))):
            extra[when] += walked(outline(plane, FACTOR)) - walked(outline(as_filmed(coarse([mask])[0]), FACTOR))
        off["before"].append(true.query(outline(as_filmed(old), FACTOR))[0])
        off["after"].append(true.query(outline(as_filmed(new), FACTOR))[0])
    before, after = (np.concatenate(off[k]) for k in ("before", "after"))
    assert after.mean() < 1.02 * before.mean()
    assert (after <= 0.3).mean() >= 0.95
    assert abs(extra["after"]) < 0.5 * extra["before"]  # the wobble is what makes outlines longer


def test_corners_lines_and_dots_stay():
    fine = drawn()
    planes = [as_filmed(p) for p in redraw_planes(coarse(fine))]
    for mask, new in zip(fine, planes, strict=True):
        true = mask.reshape(96 * FACTOR, 2, 96 * FACTOR, 2).mean(axis=(1, 3)) >= 0.5
        assert ((new > 127) != true).mean() < 0.004
        assert abs((new > 127).sum() - true.sum()) < 0.02 * true.sum()
    corner = planes[0][12 * FACTOR : 15 * FACTOR, 10 * FACTOR : 13 * FACTOR]
    want = fine[0][12 * 8 : 15 * 8, 10 * 8 : 13 * 8].mean()
    assert (corner > 127).mean() == pytest.approx(want, abs=0.08)


def test_planes_never_sum_to_more_than_solid_and_leave_no_gap_between_inks():
    planes = redraw_planes(coarse(drawn(), 0.12))
    assert (np.sum(planes, axis=0, dtype=int) <= 255).all()
    halves = [np.full((40, 40), 255, np.uint8), np.zeros((40, 40), np.uint8)]
    halves[0][:, 20:], halves[1][:, 20:] = 0, 255
    halves[0][:, 20], halves[1][:, 20] = 100, 155
    assert (np.sum(redraw_planes(halves), axis=0, dtype=int) >= 253).all()


def separation(planes):
    areas = tuple(InkArea(tuple(int(v) for v in c), p) for c, p in zip(COLOURS, planes, strict=True))
    return FlatSeparation(areas, (255, 255, 255), "encoded")


def art(width_mm, quality=None):
    share = np.stack(coarse(drawn())).astype(float) / 255
    rgb = np.einsum("khw,kc->hwc", share, COLOURS) + 255 * (1 - share.sum(axis=0))[..., None]
    rgb = np.rint(rgb).astype(np.uint8)
    rgb = rgb if quality is None else compressed(rgb, quality)
    return Artwork(rgb, np.full((96, 96), 255, np.uint8), width_mm, width_mm, "drawn")


def test_only_coarse_compressed_flat_art_is_drawn_again_and_it_is_told():
    flat = separation(coarse(drawn(), 0.12))
    new = redrawn(art(25.4, 60), flat, "smooth")
    assert any((a.coverage != b.coverage).any() for a, b in zip(flat.areas, new.areas, strict=True))
    (told,) = new.findings
    assert told.code == "drawn-again" and "96 pixels per inch" in told.more and "0.13 mm" in told.more
    tone = replace(flat, areas=(replace(flat.areas[0], tone=np.ones((96, 96), bool)), flat.areas[1]))
    for same in (
        redrawn(art(25.4, 60), flat, "as-drawn"),
        redrawn(art(12.0, 60), flat, "smooth"),
    ):
        assert same is flat
    (told,) = redrawn(art(25.4), flat, "smooth").findings
    assert "thinner than a pixel" in told.text and "other outlines stay" in told.more
    assert redrawn(art(25.4, 60), tone, "smooth") is tone


def test_steps_of_hard_pixels_become_smooth_and_no_majority_changes():
    fine = drawn()
    planes = [np.where(p > 127, 255, 0).astype(np.uint8) for p in coarse(fine)]
    pixels = np.full((96, 96, 3), 255, np.uint8)
    for plane, colour in zip(planes, COLOURS, strict=True):
        pixels[plane > 0] = colour
    hard = Artwork(pixels, np.full((96, 96), 255, np.uint8), 25.4, 25.4, "steps")
    new = redrawn(hard, separation(planes), "smooth")
    assert "steps of whole pixels" in new.findings[0].text
    near = {"before": [], "after": []}
    for mask, old, area in zip(fine, planes, new.areas, strict=True):
        true = cKDTree(outline(mask * np.uint8(255), 8))
        near["before"].append(true.query(outline(as_filmed(old), FACTOR))[0])
        near["after"].append(true.query(outline(as_filmed(area.coverage), FACTOR))[0])
        assert ((area.coverage > 127) != (old > 127)).mean() < 0.01
    before, after = (np.concatenate(near[k]) for k in ("before", "after"))
    assert np.percentile(after, 90) < 0.85 * np.percentile(before, 90)
    blocks = replace(hard, width_mm=254.0, height_mm=254.0)  # pixels of 2.6 mm are meant
    assert redrawn(blocks, separation(planes), "smooth").findings == ()


def test_an_enlarged_picture_is_drawn_again_on_the_grid_it_came_from():
    planes = coarse(drawn(), 0.12)
    big = [np.asarray(Image.fromarray(p).resize((288, 288), Image.Resampling.BICUBIC)) for p in planes]
    flat = replace(separation(big), source_px=3.0)
    enlarged = Artwork(np.full((288, 288, 3), 255, np.uint8), np.full((288, 288), 255, np.uint8), 25.4, 25.4, "big")
    new = redrawn(enlarged, flat, "smooth")
    assert "96 pixels per inch" in new.findings[0].more and new.areas[0].coverage.shape == (288, 288)
    for mask, old, area in zip(drawn(), big, new.areas, strict=True):
        true = cKDTree(outline(mask * np.uint8(255), 8))
        before, after = outline(old, 3), outline(area.coverage, 3)
        assert walked(after) < walked(before)
        assert (true.query(after)[0] <= 0.3).mean() > (true.query(before)[0] <= 0.3).mean() - 0.02


def test_sides_along_the_pixels_stay_as_they_were_meant():
    square = np.zeros((96, 120), np.uint8)
    square[20:70, 30:80] = 255
    empty = [np.zeros_like(square) for _ in COLOURS[1:]]
    pixels = np.repeat((255 - square)[..., None], 3, axis=2)
    told = Artwork(pixels, np.full(square.shape, 255, np.uint8), 31.75, 25.4, "square")
    assert redrawn(told, separation([square, *empty]), "smooth").findings == ()
    steps = square.copy()
    for k in range(12):
        steps[76 + k, 90 + 2 * k : 118] = 255  # a slope, far from the square
    told = replace(told, rgb=np.repeat((255 - steps)[..., None], 3, axis=2))
    new = redrawn(told, separation([steps, *empty]), "smooth")
    assert [finding.code for finding in new.findings] == ["drawn-again"]
    assert (new.areas[0].coverage[:50, :60] == steps[:50, :60]).all()
    assert (new.areas[0].coverage != steps).any()
