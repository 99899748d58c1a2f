"""Small art drawn for the tests, and plans of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import PlannedPrint, plan_print

WHITE, RED, BLUE, YELLOW, BLACK = (250, 250, 248), (200, 40, 40), (30, 60, 150), (245, 205, 60), (20, 20, 22)
PX_PER_MM = 4


def save(
    folder: Path,
    blocks: list[tuple[tuple[int, int, int, int], tuple[int, int, int]]],
    *,
    name: str = "art",
    size_mm: tuple[int, int] = (60, 40),
) -> Path:
    """Write a PNG with boxes (left, top, right, bottom in mm) on transparency."""
    rgba = np.zeros((size_mm[1] * PX_PER_MM, size_mm[0] * PX_PER_MM, 4), np.uint8)
    for (left, top, right, bottom), rgb in blocks:
        rgba[top * PX_PER_MM : bottom * PX_PER_MM, left * PX_PER_MM : right * PX_PER_MM] = (*rgb, 255)
    path = folder / f"{name}.png"
    Image.fromarray(rgba).save(path)
    return path


def plan(path: Path, garment: str = "black tee", **given: Any) -> tuple[PlannedPrint, np.ndarray]:
    """Plan a print and predict it."""
    with Image.open(path) as picture:
        width_mm = picture.size[0] / PX_PER_MM
    options = PrintOptions(art=path, garment=garment, width_mm=width_mm, **given)
    planned = plan_print(options, bench_of(options, Shelf()))
    return planned, planned.seen.printed
