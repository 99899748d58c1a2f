from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from sepkit.intake import tuned
from sepkit.intake.kinds import is_drawing_on_paper, light_strays
from sepkit.intake.light import evened
from sepkit.intake.paper import drawing_on_paper
from sepkit.intake.sheet import find_sheet, proportions, straightened
from tests.helpers.paper import BLACK, CORNERS, RED, SIZE, drawn, photograph


@pytest.fixture(scope="module")
def label() -> np.ndarray:
    return drawn()


@pytest.fixture(scope="module")
def picture(label: np.ndarray) -> np.ndarray:
    return photograph(label)


def test_the_sheet_is_found_to_a_pixel_and_is_a4(picture):
    sheet = find_sheet(picture)
    assert sheet is not None
    assert np.abs(sheet.corners - CORNERS).max() < 1.5
    assert not sheet.whole and not sheet.cut
    flat = straightened(picture, sheet)
    assert flat.shape[1] < flat.shape[0] < SIZE[1]


def test_proportions_of_a_tilted_sheet_as_a_camera_sees_it():
    """The corners are those of an ISO 216 sheet, tilted by 14 degrees before a lens of 0.75 picture sides."""
    half = np.array([(-1, -(2**0.5)), (1, -(2**0.5)), (1, 2**0.5), (-1, 2**0.5)])
    turn = np.deg2rad(14)
    deep = 5 + half[:, 1] * np.sin(turn)
    seen = np.stack([half[:, 0], half[:, 1] * np.cos(turn)], 1) / deep[:, None] * 1500 + (750, 1000)
    aspect, name = proportions(seen, (1500, 2000))
    assert name == "A"
    assert aspect == pytest.approx(2**0.5, rel=1e-6)


def test_light_is_divided_out_and_ink_stays(picture):
    sheet = find_sheet(picture)
    flat = straightened(picture, sheet)
    even = evened(flat).min(axis=2)
    assert np.percentile(flat.min(axis=2), 80) - np.percentile(flat.min(axis=2), 20) > 25, "the lamp is uneven"
    assert np.percentile(even, 12) > 240, "paper is white everywhere"
    assert (even < 110).mean() > 0.008


def test_pens_are_told_apart_and_lines_lie_where_they_were_drawn(picture, label):
    drawing = drawing_on_paper(picture, width_mm=100.0, height_mm=None, shading=False)
    assert drawing is not None
    assert len(drawing.pens) == 2
    black, red = sorted(drawing.pens, key=lambda pen: pen.srgb[0])
    assert max(black.srgb) - min(black.srgb) < 25
    assert red.srgb[0] > red.srgb[1] + 60
    rows, columns = np.nonzero(label)
    box = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    for pen, mark in ((black, 1), (red, 2)):
        truth = Image.fromarray(((label == mark)[box] * 255).astype(np.uint8))
        want = np.asarray(truth.resize(pen.coverage.shape[::-1], Image.Resampling.BOX), float) / 255
        found = pen.coverage / 255
        assert np.minimum(want, found).sum() / np.maximum(want, found).sum() > 0.65, "within half a pixel"
        area = want.sum()
        assert abs(found.sum() - area) / area < 0.12, "lines keep their width"
        assert found[gaussian_filter(want, 4) < 0.002].max(initial=0) < 0.5, "no marks on the paper"


def test_one_pen_is_one_ink_in_any_light(label):
    for shadow in (0.0, 0.55):
        picture = photograph(np.minimum(label, 1), shadow=shadow)
        drawing = drawing_on_paper(picture, width_mm=100.0, height_mm=None, shading=False)
        assert drawing is not None
        assert len(drawing.pens) == 1


def test_shading_is_told_and_kept_when_wanted(label):
    y, x = np.mgrid[: label.shape[0], : label.shape[1]]
    shaded = np.where((np.hypot(x - 300, y - 420) < 60) & (label == 0), 3, np.minimum(label, 1))
    picture = photograph(shaded, inks=(BLACK, RED, (0.6, 0.6, 0.6)))
    left, kept = (drawing_on_paper(picture, width_mm=200.0, height_mm=None, shading=way) for way in (False, True))
    assert left.shaded > 0.01
    assert left.pens[0].tone is None
    tone = kept.pens[0].tone
    assert tone is not None
    assert 40 < np.median(kept.pens[0].coverage[tone]) < 180


def test_a_drawing_is_told_from_other_art(picture, label):
    def opaque(rgb: np.ndarray) -> np.ndarray:
        return np.full(rgb.shape[:2], 255, np.uint8)

    assert is_drawing_on_paper(picture, opaque(picture))
    clean = np.where(label[..., None] > 0, (20, 20, 24), (255, 255, 255)).astype(np.uint8)
    assert not is_drawing_on_paper(clean, opaque(clean)), "drawn with a program"
    rng = np.random.default_rng(2)
    cloud = np.stack([gaussian_filter(rng.normal(size=(500, 400)), 9) for _ in range(3)], -1)
    tonal = np.clip(128 + 60 * cloud / cloud.std() + rng.normal(0, 3, cloud.shape), 0, 255).astype(np.uint8)
    assert not is_drawing_on_paper(tonal, opaque(tonal)), "a photograph"
    assert not is_drawing_on_paper(picture, np.zeros(picture.shape[:2], np.uint8))


def test_washes_are_painted_and_filled_shapes_are_drawn():
    rng = np.random.default_rng(8)
    y, x = np.mgrid[:400, :520]
    shapes = np.hypot(x - 170, y - 200) < 110, np.hypot(x - 370, y - 210) < 95
    grain = rng.normal(0, 3, (400, 520, 1))
    cloud = gaussian_filter(rng.normal(size=(400, 520)), 22)
    strength = np.clip(0.5 + 0.3 * cloud / cloud.std(), 0.05, 0.95)
    for wash, painted in ((strength, True), (np.full_like(strength, 0.85), False)):
        paper = np.full((400, 520, 3), 246.0)
        for shape, taken in zip(shapes, ((30, 170, 150), (190, 120, 30)), strict=True):
            soft = gaussian_filter(shape.astype(float), 1.0) * wash
            paper -= soft[..., None] * np.array(taken)
        lamp = (0.8 + 0.2 * x / x.max())[..., None]
        rgb = np.clip(paper * lamp + grain, 0, 255).astype(np.uint8)
        assert is_drawing_on_paper(rgb, np.full(rgb.shape[:2], 255, np.uint8)) is not painted


def test_a_lamp_lights_paper_smoothly_and_lights_and_darks_of_a_photograph_do_not():
    y, x = np.mgrid[:300, :400] / 400
    everywhere = np.ones((300, 400), np.float32)
    falloff = 1 / ((x - 0.8) ** 2 + (y - 0.1) ** 2 + 0.9)  # a lamp at a height of its distance: inverse squares
    assert light_strays(falloff.astype(np.float32), everywhere) < tuned.KINDS.light_stops / 4
    swells = 0.5 + 0.4 * np.sin(18 * x) * np.sin(15 * y)
    assert light_strays(swells.astype(np.float32), everywhere) > tuned.KINDS.light_stops
    strokes = everywhere * (np.sin(60 * x) < 0.9)  # what is drawn has no say
    assert light_strays((falloff * (0.02 + 0.98 * strokes)).astype(np.float32), strokes) < tuned.KINDS.light_stops / 4
