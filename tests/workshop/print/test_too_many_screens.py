"""Art of many colours is never refused: the screens that are worth their price are planned."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import plan_print

COLOURS = [
    (230, 30, 40),
    (30, 160, 60),
    (40, 60, 200),
    (250, 220, 30),
    (240, 120, 20),
    (120, 40, 150),
    (20, 180, 190),
    (120, 70, 30),
    (245, 160, 190),
    (110, 120, 40),
    (20, 30, 80),
    (160, 20, 50),
    (140, 200, 240),
    (190, 230, 120),
    (90, 90, 95),
    (250, 250, 245),
    (200, 150, 90),
    (60, 110, 100),
]


def test_art_of_many_colours_is_planned(tmp_path: Path) -> None:
    pixels = np.zeros((240, 480, 3), np.uint8)
    for number, colour in enumerate(COLOURS):
        row, column = divmod(number, 6)
        pixels[row * 80 : row * 80 + 80, column * 80 : column * 80 + 80] = colour
    path = tmp_path / "flags.png"
    Image.fromarray(pixels).save(path)
    options = PrintOptions(art=path, garment="white tee", width_mm=120.0, kind="flat")
    planned = plan_print(options, bench_of(options, Shelf()))
    assert 2 <= len(planned.separation.plates) <= 6
    assert planned.found is not None and planned.found.choices is not None
    assert planned.found.choices.all_inks.inks >= 12, "all of them are still offered"


def test_all_inks_of_very_colourful_art_are_printed_when_asked(tmp_path: Path) -> None:
    pixels = np.zeros((240, 480, 3), np.uint8)
    for number, colour in enumerate(COLOURS):
        row, column = divmod(number, 6)
        pixels[row * 80 : row * 80 + 80, column * 80 : column * 80 + 80] = colour
    path = tmp_path / "flags.png"
    Image.fromarray(pixels).save(path)
    options = PrintOptions(art=path, garment="black tee", width_mm=120.0, inks="all")
    planned = plan_print(options, bench_of(options, Shelf()))
    assert len(planned.separation.plates) > 10
