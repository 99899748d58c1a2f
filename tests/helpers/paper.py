"""A drawing on a sheet of paper, and its photograph: what was drawn is known to the pixel."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.intake.sheet import homography

PX_PER_MM = 3
A4_MM = (210, 297)
SIZE = (750, 1000)
FOCAL_PX, AWAY_MM = 750, 285


def _corners() -> np.ndarray:
    """Where a phone 285 mm away sees the corners of the sheet, turned by 3 and tilted by 9 degrees."""
    half = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(A4_MM) / 2
    turn, tilt = np.deg2rad(3), np.deg2rad(9)
    spun = half @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    deep = AWAY_MM + spun[:, 1] * np.sin(tilt)
    seen = np.stack([spun[:, 0], spun[:, 1] * np.cos(tilt)], 1)
    return seen * FOCAL_PX / deep[:, None] + np.array(SIZE) / 2


CORNERS = _corners()
"""Where the sheet's corners lie in the picture."""
BLACK, RED = (0.04, 0.04, 0.045), (0.5, 0.04, 0.05)


def drawn() -> np.ndarray:
    """(h, w) 0 paper, 1 black, 2 red, on an upright A4 sheet."""
    image = Image.new("L", (A4_MM[0] * PX_PER_MM, A4_MM[1] * PX_PER_MM), 0)
    draw = ImageDraw.Draw(image)
    draw.ellipse((150, 200, 450, 500), outline=1, width=7)
    draw.line((180, 560, 470, 640), fill=1, width=6)
    draw.polygon(((260, 300), (340, 300), (300, 380)), fill=1)
    draw.line((180, 660, 470, 740), fill=2, width=8)
    return np.asarray(image)


def photograph(label: np.ndarray, *, inks: tuple = (BLACK, RED), shadow: float = 0.4, table: float = 0.1) -> np.ndarray:
    """The sheet on a table, under a lamp and the soft shadow of a hand, blurred, noisy, as JPEG."""
    rng = np.random.default_rng(5)
    sheet = np.full((*label.shape, 3), 0.8) * (1, 0.99, 0.93)
    for k, ink in enumerate(inks, 1):
        cover = gaussian_filter((label == k).astype(float), 0.5)[..., None]
        sheet = sheet * (1 - cover) + 0.8 * np.array(ink) * cover
    height, width = label.shape
    source = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    data = tuple(homography(CORNERS, source).ravel()[:8])

    def seen(plane: np.ndarray) -> np.ndarray:
        image = Image.fromarray(plane.astype(np.float32))
        return np.asarray(image.transform(SIZE, Image.Transform.PERSPECTIVE, data, Image.Resampling.BILINEAR))

    cover = seen(np.ones(label.shape))[..., None]
    picture = np.stack([seen(sheet[..., k]) for k in range(3)], -1) * cover + table * (1 - cover)
    y, x = np.mgrid[: SIZE[1], : SIZE[0]] / SIZE[0]
    light = (0.7 + 0.4 * x) * (1 - shadow / (1 + np.exp(-(x + y - 1.1) / 0.05)))
    picture = gaussian_filter(picture * light[..., None], (0.7, 0.7, 0))
    picture = picture + rng.normal(0, 0.006, picture.shape)
    stream = io.BytesIO()
    encoded = np.rint(linear_to_srgb(np.clip(picture, 0, 1).astype(np.float32)) * 255).astype(np.uint8)
    Image.fromarray(encoded).save(stream, "JPEG", quality=88)
    return np.asarray(Image.open(stream).convert("RGB"))
