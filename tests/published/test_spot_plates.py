"""Plates of named inks as Ghostscript separates the same pages (its tiffsep device), page by page and ink by ink.

Source of what is right: ISO 32000-1:2008, 8.6.6 (Separation, DeviceN), 8.6.7 (overprint).
"""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.files.art.pages import open_pdf
from tests.helpers.film_readers import present
from tests.helpers.spot_pdfs import SIDE, SpotPdf, ghostscript_plates


def ours(path):
    drawing = open_pdf(path, by="plate")
    try:
        return {plate.name: plate.coverage for plate in drawing.plates(SIDE).plates}
    finally:
        drawing.close()


@pytest.mark.parametrize("seed", range(900, 906))
def test_random_pages_separate_as_ghostscript_separates_them(seed, tmp_path):
    drawn = SpotPdf(seed)
    path = drawn.save(tmp_path / "page.pdf")
    plates = ours(path)
    assert plates
    if not present("gs"):
        return
    theirs = ghostscript_plates(path, tmp_path / "gs")
    blank = np.zeros((SIDE, SIDE), np.uint8)
    for name in plates.keys() | theirs.keys():
        off = np.abs(plates.get(name, blank).astype(int) - theirs.get(name, blank))[~drawn.strokes]
        assert off.max() <= 1, name


def test_the_comparison_would_see_a_lost_overprint(tmp_path):
    if not present("gs"):
        return
    drawn = SpotPdf(900)
    path = drawn.save(tmp_path / "page.pdf")
    theirs = ghostscript_plates(path, tmp_path / "gs")
    for state in drawn.resources.ExtGState.values():
        state.OP = state.op = False
    knocked = ours(drawn.save(tmp_path / "knocked.pdf"))
    blank = np.zeros((SIDE, SIDE), np.uint8)
    off = [np.abs(knocked.get(name, blank).astype(int) - plate)[~drawn.strokes].max() for name, plate in theirs.items()]
    assert max(off) > 20
