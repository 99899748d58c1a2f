"""A sheet that the picture's border cuts is laid flat by its other three sides."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sepkit.intake import tuned
from sepkit.intake.sheet import _hull, find_sheet, homography, ratio_of, straightened

SIZE = (640, 480)


def seen(points, turn=(0.35, -0.2, 0.05), away=1.9, down=0.45):
    """Where points of a plane (n, 2) lie in a picture, by a pinhole camera of a phone's focal length."""
    from scipy.spatial.transform import Rotation

    space = np.column_stack([points, np.zeros(len(points))]) @ Rotation.from_rotvec(turn).as_matrix().T
    space += np.array([0, down, away])
    focal = tuned.SHEET.camera_focal * max(SIZE)
    return space[:, :2] / space[:, 2:] * focal + np.array(SIZE) / 2


PAPER = np.array([(-0.5, -0.6), (0.5, -0.6), (0.5, 0.75), (-0.5, 0.75)])
SQUARE = np.array([(-0.2, -0.35), (0.2, -0.35), (0.2, 0.05), (-0.2, 0.05)])


def picture(turned=0):
    big = Image.new("RGB", (SIZE[0] * 3, SIZE[1] * 3), (70, 60, 52))
    pen = ImageDraw.Draw(big)
    pen.polygon([tuple(p * 3) for p in seen(PAPER)], fill=(226, 224, 216))
    square = [tuple(p * 3) for p in seen(SQUARE)]
    pen.line([*square, square[0], square[1]], fill=(30, 30, 34), width=9)
    return np.rot90(np.asarray(big.resize(SIZE, Image.Resampling.BOX)), turned).copy()


@pytest.mark.parametrize("turned", [0, 1, 2, 3])
def test_a_sheet_cut_on_one_side_is_laid_flat(turned):
    assert seen(PAPER)[2:, 1].min() > SIZE[1]  # its lower side is outside
    rgb = picture(turned)
    sheet = find_sheet(rgb)
    assert sheet is not None and sheet.cut and sheet.flat and not sheet.whole
    flat = straightened(rgb, sheet)
    y, x = np.nonzero(flat.min(axis=2) < 110)
    assert len(x) > 200
    wide, tall = np.ptp(np.sort(x)[5:-5]) + 1, np.ptp(np.sort(y)[5:-5]) + 1
    assert wide == pytest.approx(tall, rel=0.03)  # the square is square again
    inside = (x > x.min() + 8) & (x < x.max() - 8) & (y > y.min() + 8) & (y < y.max() - 8)
    assert inside.mean() < 0.03  # and stands straight: nothing of it but its four sides


def test_what_is_seen_has_the_proportions_that_the_lens_tells():
    part = np.array([(-0.5, -0.6), (0.5, -0.6), (0.5, 0.1), (-0.5, 0.1)])
    assert ratio_of(seen(part), SIZE) == pytest.approx(0.7, rel=1e-6)
    assert homography(part, seen(part))[2, 2] == 1.0


@pytest.mark.parametrize("seed", range(6))
def test_the_hull_is_that_of_qhull(seed):
    from scipy.spatial import ConvexHull

    points = np.random.default_rng(seed).integers(0, 30, (200, 2)).astype(float)
    want = points[ConvexHull(points).vertices]
    found = _hull(points)
    first = np.flatnonzero((found == want[0]).all(axis=1))[0]
    assert np.array_equal(np.roll(found, -first, axis=0), want)
