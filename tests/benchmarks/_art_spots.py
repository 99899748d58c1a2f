"""Pages of named inks drawn with a seed, each plate held against Ghostscript's separation of the same page."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from sepkit.files.art.pages import open_pdf
from tests.benchmarks._art import Kind, above, below
from tests.helpers.spot_pdfs import SIDE, SpotPdf, ghostscript_plates


def drawn(seed):
    """Return the bytes of a page, and (Ghostscript's plates by name, pixels at outlines of strokes)."""
    page = SpotPdf(seed)
    with tempfile.TemporaryDirectory() as folder:
        path = page.save(Path(folder) / "page.pdf")
        plates = ghostscript_plates(path, Path(folder) / "gs")
        return path.read_bytes(), (plates, page.strokes)


def figures(data, truth):
    """Return how far our plates are off, in levels of 255, and whether all names are right."""
    plates, strokes = truth
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.pdf"
        path.write_bytes(data)
        drawing = open_pdf(path, by="plate")
        try:
            found = {plate.name: plate.coverage for plate in drawing.plates(SIDE).plates}
        finally:
            drawing.close()
    blank = np.zeros((SIDE, SIDE), np.uint8)
    off = [
        int(np.abs(found.get(name, blank).astype(int) - plates.get(name, blank))[~strokes].max())
        for name in found.keys() | plates.keys()
    ]
    return {
        "levels off": float(max(off)),
        "equal": 100.0 * (max(off) <= 1),
        "names": 100.0 * (set(found) == set(plates)),
    }


KINDS = (Kind("spots", drawn, figures, {"levels off": below(1), "equal": above(100), "refused": below(0)}),)
