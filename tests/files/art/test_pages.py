from __future__ import annotations

import numpy as np
import pytest

from sepkit.errors import ArtworkError
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.picture import MAX_PIXELS
from tests.helpers.art_files import pdf_file

RED_HALF = b"1 0 0 rg 0 0 72 72 re f"


def codes(art):
    return [finding.code for finding in art.findings]


def refusal(path):
    with pytest.raises(ArtworkError) as caught:
        read_artwork(path)
    assert caught.value.exit_code == 4
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_page_size_and_clear_ground(tmp_path):
    art = read_artwork(pdf_file(tmp_path / "a.pdf", RED_HALF))
    assert (art.width_mm, art.height_mm) == (pytest.approx(50.8), pytest.approx(25.4))
    assert art.rgb.shape == (300, 600, 3)
    assert art.rgb[150, 100].tolist() == [255, 0, 0]
    assert art.alpha[150, 100] == 255
    assert art.alpha[150, 500] == 0
    assert art.vector
    assert codes(art) == ["size-from-file", "rendered"]


def test_half_opacity_is_straight_alpha(tmp_path):
    art = read_artwork(pdf_file(tmp_path / "a.pdf", b"/G gs " + RED_HALF), width_mm=100)
    assert art.rgb[100, 100].tolist() == [255, 0, 0]
    assert art.alpha[100, 100] == pytest.approx(128, abs=1)
    assert art.height_mm == pytest.approx(50)


def test_rotation_and_user_unit(tmp_path):
    art = read_artwork(pdf_file(tmp_path / "a.pdf", RED_HALF, extra={"/Rotate": 90}))
    assert (art.width_mm, art.height_mm) == (pytest.approx(25.4), pytest.approx(50.8))
    assert art.alpha[100, 150] == 255
    assert art.alpha[500, 150] == 0
    art = read_artwork(pdf_file(tmp_path / "b.pdf", RED_HALF, extra={"/UserUnit": 2}))
    assert art.width_mm == pytest.approx(101.6)


def test_first_page_only(tmp_path):
    assert "first-page" in codes(read_artwork(pdf_file(tmp_path / "a.pdf", RED_HALF, pages=3)))


def test_cmyk_and_spot_colours_are_told(tmp_path):
    art = read_artwork(pdf_file(tmp_path / "a.pdf", b"1 0 0 0 k 0 0 72 72 re f"))
    assert "cmyk-default" in codes(art)
    art = read_artwork(pdf_file(tmp_path / "b.pdf", b"/Spot cs 1 scn 0 0 72 72 re f"))
    assert "spot-converted" in codes(art)
    assert art.alpha[150, 100] == 255


def picture(width, height, data=b"\xff\0\0"):
    def make(pdf):
        import pikepdf

        stream = pdf.make_stream(data)
        stream.Type, stream.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        stream.Width, stream.Height, stream.BitsPerComponent = width, height, 8
        stream.ColorSpace = pikepdf.Name.DeviceRGB
        return stream

    return make


def test_pictures_keep_their_pixels_and_bombs_are_refused(tmp_path):
    data = np.tile(np.array([255, 0, 0], np.uint8), (500, 1000, 1)).tobytes()
    content = b"q 144 0 0 72 0 0 cm /Pic Do Q"
    art = read_artwork(pdf_file(tmp_path / "a.pdf", content, images={"Pic": picture(1000, 500, data)}))
    assert art.rgb.shape[1] == 1000
    line = refusal(pdf_file(tmp_path / "b.pdf", content, images={"Pic": picture(30_000, 30_000)}))
    assert "a picture on the page is 30,000 x 30,000 pixels" in line
    assert MAX_PIXELS < 30_000 * 30_000


def test_locked_broken_and_empty(tmp_path):
    import pikepdf

    locked = pikepdf.Encryption(owner="o", user="u")
    line = refusal(pdf_file(tmp_path / "a.pdf", RED_HALF, encryption=locked))
    assert line == "a.pdf: is locked with a password (save it without one)"
    open_to_read = pikepdf.Encryption(owner="o", user="")
    assert read_artwork(pdf_file(tmp_path / "o.pdf", RED_HALF, encryption=open_to_read)).alpha[150, 100] == 255
    whole = (tmp_path / "o.pdf").read_bytes()
    (tmp_path / "b.pdf").write_bytes(whole[:200])
    assert "the PDF is broken or cut short" in refusal(tmp_path / "b.pdf")
    (tmp_path / "c.pdf").write_bytes(b"%PDF-1.7\nnothing")
    assert "the PDF is broken or cut short" in refusal(tmp_path / "c.pdf")
    pdf = pikepdf.new()
    pdf.save(tmp_path / "d.pdf")
    assert "d.pdf: the PDF has no pages" in refusal(tmp_path / "d.pdf")
    assert "no art" in refusal(pdf_file(tmp_path / "e.pdf", b""))
