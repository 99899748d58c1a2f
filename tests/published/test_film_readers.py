"""Films as outside programs read them: poppler, Ghostscript, qpdf, libtiff (by Pillow and tiffinfo)."""

from __future__ import annotations

import re

import numpy as np
import pytest
from PIL import Image

from sepkit.files.films.pdf import write_film_pdf
from sepkit.files.films.png import write_film_png
from sepkit.files.films.tiff import write_film_tiff
from sepkit.film.marks import FilmLabel, film_page
from sepkit.film.raster import page_rows
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.film.tone import ToneLimits
from sepkit.model import Halftone, Mesh
from tests.helpers.film_readers import ghostscript_bits, ink_of, poppler_bits, present, run


def a_page(*, order=1, dpi=720.0, width_mm=41.3, height_mm=33.7, all_colours=False, mirror=False):
    y, x = np.mgrid[0:320, 0:400]
    plane = np.clip(x * 0.7 + 30 * np.sin(y / 20 + order), 0, 255).astype(np.uint8)
    # A known solid that is not in the middle: polarity and both axes show.
    plane[220:300, 30:120] = 255
    plane[240:260, 50:70] = 0
    film = plan_film(
        plane,
        y < 200,
        Halftone(dpi / 16, 22.5 + order, "ellipse"),
        width_mm=width_mm,
        height_mm=height_mm,
        settings=FilmSettings(dpi=dpi, limits=ToneLimits(160, 160), mirror=mirror),
    )
    label = FilmLabel(f"plate {order}", "Tomate grillée", order, 2, Mesh(77, 55), "black tee", "lantern")
    return film_page(film, label, all_colours=all_colours)


def film_bits(page):
    film = page.films[0].film
    return np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px).astype(bool)


def assert_same(read, page):
    assert read.shape == (page.height_px, page.width_px)
    for placed in page.films:
        film = placed.film
        bits = np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px).astype(bool)
        got = read[placed.y_px : placed.y_px + film.height_px, placed.x_px : placed.x_px + film.width_px]
        assert (got != bits).sum() == 0


@pytest.mark.parametrize("dpi", [300.0, 600.0, 720.0, 1016.0, 1440.0])
def test_every_bit_is_read_at_device_resolution(tmp_path, dpi):
    page = a_page(dpi=dpi)
    path = tmp_path / "film.pdf"
    write_film_pdf(path, [page])
    if present("pdftoppm"):
        assert_same(poppler_bits(path, dpi), page)
    if present("gs"):
        assert_same(ghostscript_bits(path, dpi), page)


@pytest.mark.parametrize("change", [{"all_colours": True}, {"mirror": True}])
def test_rich_and_mirrored_films_have_the_same_bits(tmp_path, change):
    page = a_page(**change)
    path = tmp_path / "film.pdf"
    write_film_pdf(path, [page])
    if present("pdftoppm"):
        assert_same(poppler_bits(path, 720), page)
    if present("gs"):
        assert_same(ghostscript_bits(path, 720), page)


def test_rich_is_solid_in_all_four_colours(tmp_path):
    for rich in (True, False):
        path = tmp_path / f"rich-{rich}.pdf"
        page = a_page(all_colours=rich)
        write_film_pdf(path, [page])
        if not present("gs"):
            return
        run(
            "gs",
            "-q",
            "-dNOPAUSE",
            "-dBATCH",
            "-dSAFER",
            "-sDEVICE=tiffsep",
            "-r720",
            f"-sOutputFile={tmp_path / 'o.tif'}",
            path,
        )
        ink = film_bits(page).sum()
        placed = page.films[0]
        rows = slice(placed.y_px, placed.y_px + placed.film.height_px)
        columns = slice(placed.x_px, placed.x_px + placed.film.width_px)
        for colour in ("Cyan", "Magenta", "Yellow", "Black"):
            with Image.open(tmp_path / f"o({colour}).tif") as image:
                area = np.array(image)[rows, columns]
            assert (area == 0).sum() == (ink if rich or colour == "Black" else 0)


def test_all_pages_show_their_targets_at_the_same_place(tmp_path):
    pages = [a_page(order=1), a_page(order=2)]
    path = tmp_path / "films.pdf"
    spooled = write_film_pdf(path, pages)
    write_film_pdf(tmp_path / "copied.pdf", spooled)
    if not present("pdftoppm"):
        return
    read = [poppler_bits(path, 720, k) for k in (1, 2)]
    for page, bits in zip(pages, read, strict=True):
        assert_same(bits, page)
    # Left of the art stand a target, the scale and the centre mark, the same on both.
    left, top = pages[0].films[0].x_px, pages[0].films[0].y_px
    low = top + pages[0].films[0].film.height_px
    assert np.array_equal(read[0][top:low, :left], read[1][top:low, :left])
    assert read[0][top:low, :left].any()
    for k in (1, 2):
        assert np.array_equal(poppler_bits(tmp_path / "copied.pdf", 720, k), read[k - 1])


def test_page_boxes_are_in_true_millimetres(tmp_path):
    page = a_page()
    path = tmp_path / "film.pdf"
    write_film_pdf(path, [page])
    if not present("pdfinfo"):
        return
    box = re.search(r"MediaBox:\s+([\d. ]+)", run("pdfinfo", "-box", path))
    _, _, width, height = (float(v) * 25.4 / 72 for v in box[1].split())
    assert width == pytest.approx(page.width_mm, abs=0.002)
    assert height == pytest.approx(page.height_mm, abs=0.002)


def test_images_are_stencils_at_the_film_resolution(tmp_path):
    path = tmp_path / "film.pdf"
    write_film_pdf(path, [a_page()])
    if not present("pdfimages"):
        return
    lines = run("pdfimages", "-list", path).splitlines()[2:]
    assert len(lines) == 2
    for line in lines:
        cells = line.split()
        assert cells[2] == "stencil"
        assert cells[12:14] == ["720", "720"]


def test_pdf_syntax_is_clean(tmp_path):
    path = tmp_path / "films.pdf"
    write_film_pdf(path, [a_page(order=1), a_page(order=2, all_colours=True)])
    if present("qpdf"):
        assert "No syntax or stream encoding errors" in run("qpdf", "--check", path)
    if present("pdfinfo"):
        text = run("pdfinfo", path)
        assert "Pages:           2" in text
        assert "PDF version:     1.6" in text


def test_films_carry_no_font(tmp_path):
    path = tmp_path / "film.pdf"
    write_film_pdf(path, [a_page()])
    assert b"/Font" not in path.read_bytes()


def test_the_scale_bar_measures_100_mm(tmp_path):
    page = a_page()
    path = tmp_path / "film.pdf"
    write_film_pdf(path, [page])
    if not present("pdftoppm"):
        return
    read = poppler_bits(path, 720)
    # The longest unbroken run of ink in the lowest 10 mm is the bar.
    longest = 0
    for row in read[-round(10 / 25.4 * 720) :]:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
        longest = max(longest, int((edges[1::2] - edges[::2]).max(initial=0)))
    # The line's round ends and width add up to its width of 0.25 mm.
    assert longest * 25.4 / 720 == pytest.approx(100.0, abs=0.35)


def test_tiff_and_png_hold_the_page(tmp_path):
    page = a_page()
    expected = np.unpackbits(np.concatenate(list(page_rows(page))), axis=1, count=page.width_px).astype(bool)
    for name, write in (("film.tif", write_film_tiff), ("film.png", write_film_png)):
        write(tmp_path / name, page)
        assert np.array_equal(ink_of(tmp_path / name), expected)
        with Image.open(tmp_path / name) as image:
            assert image.info["dpi"] == pytest.approx((720, 720), abs=0.02)


def test_tiff_is_group_4_in_strips_min_is_white(tmp_path):
    page = a_page()
    write_film_tiff(tmp_path / "film.tif", page)
    with Image.open(tmp_path / "film.tif") as image:
        tags = image.tag_v2
        assert (tags[258], tags[259], tags[262]) == ((1,), 4, 0)
        assert len(tags[273]) == -(-page.height_px // tags[278]) > 1
    if present("tiffinfo"):
        text = run("tiffinfo", tmp_path / "film.tif")
        assert "CCITT Group 4" in text
        assert "min-is-white" in text
        assert f"Image Width: {page.width_px} Image Length: {page.height_px}" in text
