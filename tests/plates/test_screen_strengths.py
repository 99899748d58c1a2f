"""How strong the dots of each screen are: held against what printers know of yellow and black."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sepkit.files.shelf.shelf import Shelf
from sepkit.plates.drafts import PlateDraft
from sepkit.plates.screens import strengths_of
from sepkit.workshop.print.options import PrintOptions, bench_of

SHELF = Shelf()


def test_black_dots_are_strongest_yellow_ones_weak_and_a_solid_has_none() -> None:
    """Yellow has the angle that beats worst, for its dots are hardly seen (common practice of process printing)."""
    dots = np.tile(np.array([[0, 128], [128, 255]], np.uint8), (8, 8))
    planes = {"process yellow": dots, "black": dots, "process cyan": np.full_like(dots, 255)}
    bench = bench_of(PrintOptions(art=Path("no.png"), garment="white tee", width_mm=100.0), SHELF)
    rows = [PlateDraft(name, SHELF.ink(name), plane, plane) for name, plane in planes.items()]
    yellow, black, solid = strengths_of(rows, bench)
    assert 0 < yellow < 0.3 * black
    assert solid == 0
