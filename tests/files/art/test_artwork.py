from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from sepkit.errors import ArtworkError, SepkitError, UsageError
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.detail import thin_share
from tests.helpers.art_files import as_bytes, corners, svg


@pytest.fixture
def png(tmp_path):
    def write(name="art.png", pixels=None, **options):
        path = tmp_path / name
        Image.fromarray(corners() if pixels is None else pixels).save(path, "PNG", **options)
        return path

    return write


def refusal(path, kind=ArtworkError, **size):
    with pytest.raises(kind) as caught:
        read_artwork(path, **(size or {"width_mm": 100.0}))
    assert "\n" not in str(caught.value)
    assert caught.value.hint
    return str(caught.value)


def test_size_from_file_only_when_plausible(png):
    art = read_artwork(png(dpi=(300, 300)))
    assert art.width_mm == pytest.approx(40 / 300 * 25.4, rel=1e-4)
    assert art.dpi == pytest.approx(300, rel=1e-4)
    assert [finding.code for finding in art.findings] == ["size-from-file"]
    for low in ((72, 72), (96, 96), (1, 1)):
        line = refusal(png(dpi=low), width_mm=None)
        assert line == "art.png: does not say how large it prints (give --width 300mm)"
    assert refusal(png(), width_mm=None) == "art.png: does not say how large it prints (give --width 300mm)"


def test_given_size_goes_before_the_files(png):
    art = read_artwork(png(dpi=(300, 300)), width_mm=200)
    assert (art.width_mm, art.height_mm) == (200, pytest.approx(120))
    assert read_artwork(png(), height_mm=60).width_mm == pytest.approx(100)
    art = read_artwork(png(), width_mm=100, height_mm=60)
    assert art.height_mm == pytest.approx(60)
    line = refusal(png(), UsageError, width_mm=100, height_mm=100)
    assert line == "art.png: 100 x 100 mm would stretch the art (give only the width, or --height 60.0mm)"


@pytest.mark.parametrize("side", ["width_mm", "height_mm"])
@pytest.mark.parametrize("size", [0, -5, 0.5, 3001, float("nan"), float("inf")])
def test_sizes_out_of_range(png, side, size):
    assert "is outside 1 to 3000 mm" in refusal(png(), UsageError, **{side: size})


def test_derived_side_out_of_range(png):
    strip = np.zeros((2000, 1, 3), np.uint8)
    assert "would print 100 x 2e+05 mm, outside 1 to 3000 mm" in refusal(png(pixels=strip))


def test_pixels_that_are_not_square(png):
    art = read_artwork(png(dpi=(600, 300)))
    assert art.height_mm / art.width_mm == pytest.approx(24 / 20, rel=1e-3)
    assert art.alpha.shape == (48, 40)
    assert "pixels-squared" in [finding.code for finding in art.findings]
    assert art.rgb[4, 4].tolist() == [255, 0, 0]


def test_one_pixel(png):
    art = read_artwork(png(pixels=np.array([[[200, 10, 10]]], np.uint8)), width_mm=10)
    assert art.rgb.shape == (1, 1, 3)
    assert [finding.code for finding in art.findings] == ["tiny"]


def test_fully_transparent(png):
    line = refusal(png(pixels=np.zeros((40, 40, 4), np.uint8)))
    assert line == "art.png: no art: every pixel is transparent (export the layers that print)"


def test_arrays_are_read_only_and_plain(png):
    art = read_artwork(png(), width_mm=100)
    for plane in (art.rgb, art.alpha):
        assert plane.dtype == np.uint8
        assert plane.flags.c_contiguous
        assert not plane.flags.writeable


def test_what_is_no_picture(tmp_path):
    assert "there is no such file (check" in refusal(tmp_path / "none.png")
    assert "is a folder" in refusal(tmp_path)
    (tmp_path / "empty.png").touch()
    assert refusal(tmp_path / "empty.png") == "empty.png: is empty (0 bytes) (export or copy it again)"
    (tmp_path / "text.png").write_text("Dear printer, the logo is attached.")
    assert refusal(tmp_path / "text.png") == (
        "text.png: is not a picture that can be read (give PNG, JPEG, TIFF, WebP, GIF, BMP, SVG or PDF)"
    )
    (tmp_path / "page.svg").write_text("<html><body>hello</body></html>")
    assert "page.svg: is not a picture" in refusal(tmp_path / "page.svg")


@pytest.mark.parametrize("name", ["/dev/null", "/dev/zero"])
def test_devices_are_not_read(name):
    assert "is not a file" in refusal(name)


def test_a_path_through_a_file_and_impossible_names(tmp_path):
    (tmp_path / "a").write_text("x")
    assert "cannot be read" in refusal(tmp_path / "a" / "art.png")
    assert "cannot be read" in refusal(tmp_path / ("n" * 300))
    assert "cannot be read" in refusal("a\0b.png")


def test_no_right_to_read(png, monkeypatch):
    from pathlib import Path

    path = png()

    def refuse(self, *args, **kwargs):
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "open", refuse)
    assert "cannot be read: Permission denied" in refusal(path)


GOOD_FILES = {
    "png": as_bytes(Image.fromarray(corners()), "PNG"),
    "jpg": as_bytes(Image.fromarray(corners()), "JPEG"),
    "tif": as_bytes(Image.fromarray(corners()), "TIFF", compression="tiff_lzw"),
    "gif": as_bytes(Image.fromarray(corners()), "GIF"),
    "webp": as_bytes(Image.fromarray(corners()), "WEBP"),
    "svg": svg('<circle cx="9" cy="9" r="5"/><use href="#a"/>').encode(),
}


@settings(max_examples=60, deadline=None)
@given(kind=st.sampled_from(sorted(GOOD_FILES)), place=st.floats(0, 1), byte=st.integers(0, 255), cut=st.booleans())
def test_damaged_files_are_read_or_refused_in_one_line(tmp_path_factory, kind, place, byte, cut):
    data = bytearray(GOOD_FILES[kind])
    at = min(int(place * len(data)), len(data) - 1)
    if cut:
        del data[at:]
    else:
        data[at] = byte
    path = tmp_path_factory.mktemp("damaged") / f"art.{kind}"
    path.write_bytes(data)
    try:
        art = read_artwork(path, width_mm=50)
    except SepkitError as error:
        assert "\n" not in str(error)
        assert str(error).startswith("art.")
    else:
        assert art.rgb.shape[:2] == art.alpha.shape


def test_thin_share_knows_lines_from_shapes():
    page = np.zeros((60, 60, 4), np.uint8)
    page[10:30, 10:40] = (200, 30, 30, 255)
    assert thin_share(page) == 0
    page[45:47, 5:55] = (30, 30, 200, 255)
    assert thin_share(page) > 0.1
    flat = np.full((60, 60, 4), 255, np.uint8)
    assert thin_share(flat) == 0
    flat[20:21, 5:55, :3] = 0
    assert thin_share(flat) > 0.1  # a dark hairline in opaque art


@pytest.mark.parametrize("film_dpi", [0, -1, float("nan"), 1e9])
def test_film_resolution_out_of_range(tmp_path, film_dpi):
    path = tmp_path / "a.svg"
    path.write_text(svg('<circle r="9"/>'))
    with pytest.raises(UsageError, match=r"film: .* dpi is outside 72 to 4800"):
        read_artwork(path, film_dpi=film_dpi)
