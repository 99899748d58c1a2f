from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

from sepkit.separation import grid
from sepkit.separation.noise import character
from sepkit.separation.tones import soft_alpha


@lru_cache(maxsize=1)
def drawn(side: int = 360) -> np.ndarray:
    """Return discs in three colours on white, antialiased."""
    big = np.full((side * 4, side * 4, 3), 250, np.uint8)
    y, x = np.mgrid[: side * 4, : side * 4]
    rng = np.random.default_rng(11)
    for k in range(14):
        (cy, cx), r = rng.uniform(0, side * 4, 2), rng.uniform(60, 260)
        big[np.hypot(y - cy, x - cx) < r] = ((200, 38, 44), (24, 72, 148), (28, 28, 30))[k % 3]
    return np.asarray(Image.fromarray(big).reduce(4))


def factor_of(picture: np.ndarray) -> float:
    height, width = picture.shape[:2]
    kind = character(picture, np.full((height, width), 255, np.uint8), (255, 255, 255))
    return grid.enlargement(picture[grid.sample_rows(height)], height, kind.edge_width_px)


@pytest.mark.parametrize("sigma", [0.65, 1.0, 1.5])
def test_blurred_art_is_not_taken_for_enlarged(sigma: float) -> None:
    soft = np.stack([ndimage.gaussian_filter(drawn()[..., c].astype(float), sigma) for c in range(3)], axis=-1)
    assert factor_of(np.rint(soft).astype(np.uint8)) == 1.0


@pytest.mark.parametrize("factor", [1.5, 2.0, 3.0])
@pytest.mark.parametrize("kernel", [Image.Resampling.BICUBIC, Image.Resampling.BILINEAR])
def test_enlarged_art_is_told_by_its_factor(factor: float, kernel: Image.Resampling) -> None:
    side = round(360 * factor)
    assert factor_of(np.asarray(Image.fromarray(drawn()).resize((side, side), kernel))) == factor


def test_a_blurred_thin_line_is_no_veil_and_a_soft_shadow_is() -> None:
    alpha = np.zeros((200, 200), np.uint8)
    alpha[20:22, 10:190] = alpha[10:190, 40:43] = 255
    line = np.rint(ndimage.gaussian_filter(alpha.astype(float), 0.7)).astype(np.uint8)
    assert soft_alpha(line, edge_width_px=2.4, pixel_mm2=0.007) is None
    shadow = line.copy()
    shadow[100:160, 100:160] = 90
    veil = soft_alpha(shadow, edge_width_px=2.4, pixel_mm2=0.007)
    assert veil is not None
    assert veil[105:155, 105:155].all()
    assert not veil[:90].any()
