"""A picture with more pixels than needed keeps its size, its coverage and its colours in fewer."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.files.art import artwork, reduce
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.raster import read_raster

MOST = 1200


@pytest.fixture
def noisy() -> np.ndarray:
    return np.random.default_rng(7).integers(0, 256, (96, 80, 4), np.uint8)


def area_mean(pixels: np.ndarray, factor: int) -> np.ndarray:
    """Mean of blocks, colours weighted by alpha, in floating point."""
    h, w = pixels.shape[0] // factor, pixels.shape[1] // factor
    blocks = pixels.reshape(h, factor, w, factor, 4).astype(float)
    alpha = blocks[..., 3:]
    colour = (blocks[..., :3] * alpha).sum((1, 3)) / alpha.sum((1, 3)).clip(1e-9)
    return np.concatenate([colour, alpha.mean((1, 3))], axis=2)


def test_each_pixel_is_the_mean_of_its_area(noisy, monkeypatch):
    monkeypatch.setattr(reduce, "_BAND_PX", 700)  # several bands
    got = np.asarray(reduce.reduced(Image.fromarray(noisy), "RGBA", 96 * 80 // 16))
    assert got.shape == (24, 20, 4)
    assert np.abs(got - area_mean(noisy, 4)).max() <= 3  # 8-bit products with alpha


@pytest.mark.parametrize("most", [500, 1234, 5000])
def test_bands_leave_no_seam(noisy, monkeypatch, most):
    whole = np.asarray(reduce.reduced(Image.fromarray(noisy), "RGBA", most)).astype(int)
    monkeypatch.setattr(reduce, "_BAND_PX", 400)
    assert np.abs(np.asarray(reduce.reduced(Image.fromarray(noisy), "RGBA", most)) - whole).max() <= 1


def test_a_picture_that_is_small_enough_is_left_alone(noisy):
    assert np.array_equal(np.asarray(reduce.reduced(Image.fromarray(noisy), "RGBA", noisy.size)), noisy)


@pytest.mark.parametrize(
    ("ending", "mode"),
    [("png", "RGBA"), ("png", "P"), ("png", "L"), ("png", "1"), ("jpg", "CMYK"), ("jpg", "RGB"), ("tif", "RGB")],
)
def test_size_and_proportions_are_those_of_the_file(tmp_path: Path, monkeypatch, ending, mode):
    image = Image.linear_gradient("L").resize((130, 90)).convert("RGBA" if mode == "RGBA" else "RGB").convert(mode)
    path = tmp_path / f"art.{ending}"
    image.save(path, dpi=(254, 254))
    whole = read_artwork(path)
    monkeypatch.setattr(artwork, "MOST_PX", MOST)
    few = read_artwork(path)
    assert (few.width_mm, few.height_mm) == (whole.width_mm, whole.height_mm) == pytest.approx((13.0, 9.0), abs=0.01)
    assert few.alpha.size <= MOST < whole.alpha.size
    assert few.rgb.mean() == pytest.approx(whole.rgb.mean(), abs=2.0)
    said = {f.code: f for f in few.findings}["pixels-reduced"]
    assert said.level == "warn", said
    assert f"{few.rgb.shape[1] / 13.0 * 25.4:.0f} dpi" in said.text
    assert "pixels-reduced" not in {f.code for f in whole.findings}


def test_a_sideways_picture_has_its_sides_the_right_way(tmp_path: Path):
    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "art.jpg"
    Image.linear_gradient("L").resize((130, 90)).save(path, exif=exif)
    picture = read_raster(path, most_px=MOST)
    assert picture.full_px == (90, 130)
    height, width = picture.alpha.shape
    assert width * height <= MOST
    assert height / width == pytest.approx(130 / 90, abs=0.05)


def test_deep_pictures_are_reduced_too(tmp_path: Path):
    import tifffile

    deep = np.random.default_rng(1).integers(0, 65536, (60, 50, 3), np.uint16)
    tifffile.imwrite(tmp_path / "art.tif", deep)
    picture = read_raster(tmp_path / "art.tif", most_px=60 * 50 // 25)
    assert picture.full_px == (50, 60)
    blocks = (deep / 257).reshape(12, 5, 10, 5, 3).mean((1, 3))
    assert np.abs(picture.rgb - blocks).max() <= 1
