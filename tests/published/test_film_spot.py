"""The spot colour composite as Ghostscript separates it and poppler sees it.

Sources: ISO 32000-1:2008, 8.6.6.4 and 8.6.7.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
from film_readers import present, run
from PIL import Image

from sepkit.files.spot_pdf import MARGIN_MM, spot_names, write_spot_pdf
from sepkit.model import Mesh, Plate

DPI = 300
SIDE = 600


def a_plate(order, name, ink, coverage, *, trap_mm=0.3):
    return Plate(
        order, name, "colour", ink, (200, 30, 30), (200, 30, 30), coverage, coverage, None, 1, False, None,
        Mesh(62, 60), trap_mm,
    )  # fmt: skip


def three_plates():
    base, red, blue = (np.zeros((SIDE, SIDE), np.uint8) for _ in range(3))
    base[50:550, 50:550] = 255
    red[100:450, 100:450] = 128
    blue[300:500, 300:500] = 64
    return [a_plate(1, "underbase", "white", base), a_plate(2, "red", "Red/Lantern (2)", red),
            a_plate(3, "dark blue", "#203060", blue)]  # fmt: skip


def separated(tmp_path, plates, overprint):
    path = tmp_path / f"spot-{overprint}.pdf"
    mm = SIDE * 25.4 / DPI
    names = write_spot_pdf(path, plates, width_mm=mm, height_mm=mm, title="Lantern fête", overprint=overprint)
    out = tmp_path / f"{overprint}.tif"
    run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep", f"-r{DPI}", f"-sOutputFile={out}", path)
    start = round(MARGIN_MM * DPI / 25.4)
    areas = {}
    for name in [*names, "Cyan", "Magenta", "Yellow", "Black"]:
        file = tmp_path / f"{overprint}({name.replace('/', '%2F')}).tif"
        with Image.open(file) as image:
            plate = 255 - np.array(image, np.int64)
        areas[name] = plate[start : start + SIDE, start : start + SIDE].sum() / 255
    return areas


def test_each_ink_comes_out_on_its_own_plate_with_the_asked_ink(tmp_path):
    if not present("gs"):
        return
    plates = three_plates()
    areas = separated(tmp_path, plates, "on")
    for name, plate in zip(spot_names(plates), plates, strict=True):
        assert areas[name] == pytest.approx(plate.printed.sum() / 255, rel=0.002)
    assert [areas[c] for c in ("Cyan", "Magenta", "Yellow", "Black")] == [0, 0, 0, 0]


def test_without_overprint_the_base_is_knocked_out(tmp_path):
    """The control: the check above fails when overprint is off."""
    if not present("gs"):
        return
    plates = three_plates()
    areas = separated(tmp_path, plates, "off")
    assert areas["white"] < 0.6 * plates[0].printed.sum() / 255


def test_boxes_title_and_syntax(tmp_path):
    path = tmp_path / "spot.pdf"
    write_spot_pdf(path, three_plates(), width_mm=120, height_mm=90, title="Lantern fête")
    if present("pdfinfo"):
        text = run("pdfinfo", "-box", path)
        trim = [float(v) for v in re.search(r"TrimBox:\s+([\d. ]+)", text)[1].split()]
        media = [float(v) for v in re.search(r"MediaBox:\s+([\d. ]+)", text)[1].split()]
        assert (trim[2] - trim[0]) * 25.4 / 72 == pytest.approx(120, abs=0.01)
        assert (trim[3] - trim[1]) * 25.4 / 72 == pytest.approx(90, abs=0.01)
        assert media[0] < trim[0] < trim[2] < media[2]
        assert "Lantern fête" in text
        assert "Metadata Stream: yes" in text
    if present("qpdf"):
        assert "No syntax or stream encoding errors" in run("qpdf", "--check", path)


def test_a_viewer_without_overprint_shows_ink_upon_ink(tmp_path):
    """Poppler paints the last colour over the first and leaves paper where no plate has ink."""
    if not present("pdftoppm"):
        return
    path = tmp_path / "spot.pdf"
    mm = SIDE * 25.4 / DPI
    plates = three_plates()
    labs = [(60.0, 0.0, 0.0), (50.0, 60.0, 40.0), (30.0, 0.0, -40.0)]
    write_spot_pdf(path, plates, width_mm=mm, height_mm=mm, title="x", lab_of=labs)
    run("pdftoppm", "-r", "100", "-png", "-singlefile", path, tmp_path / "seen")
    with Image.open(tmp_path / "seen.png") as image:
        seen = np.array(image.convert("RGB")).astype(int)
    start = round(MARGIN_MM * 100 / 25.4)

    def at(x, y):
        return seen[start + y // 3, start + x // 3]

    assert (at(20, 20) > 250).all()
    base, red = at(80, 500), at(200, 200)
    assert np.ptp(base) < 12
    assert 100 < base[0] < 190
    assert red[0] > red[2] + 25


def test_names_of_screens_are_never_the_same():
    plane = np.full((4, 4), 255, np.uint8)
    inks = [("underbase", "white"), ("white", "white"), ("All", "#ff0000"), ("white", "#fefefe")]
    plates = [a_plate(order, name, ink, plane) for order, (name, ink) in enumerate(inks, 1)]
    names = spot_names(plates)
    assert len(set(names)) == 4
    assert "All" not in names
