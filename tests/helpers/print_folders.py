"""Print folders for tests and benchmarks: invented plates, written as `sepkit separate` writes them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sepkit.files.folders.entries import write_plates
from sepkit.files.folders.record import ArtFacts, FilmFacts, PrintRecord, record_json, write_record
from sepkit.film.making import FilmMaking
from sepkit.film.outline import film_size_px
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import Artwork, Garment, Halftone, Ink, Mesh, Plate, Separation


def waves(height, width, k):
    """A soft picture that has every tint."""
    y = np.arange(height, dtype=np.float32)[:, None]
    x = np.arange(width, dtype=np.float32)[None, :]
    wave = np.sin(x * (0.0011 + 0.0007 * k) + k) * np.cos(y * 0.0017)
    return np.clip(128 + 127 * wave, 0, 255).astype(np.uint8)


def make_folder(folder: Path, *, plates=2, width=300, height=240, dpi=150.0, film_dpi=360.0, toned=True) -> Path:
    """Write a print folder with halftoned plates (and a flat underbase first) and return it."""
    made = []
    for k in range(plates):
        coverage = waves(height, width, k)
        if k == 0 and not toned:
            coverage = np.where(coverage > 127, 255, 0).astype(np.uint8)
        tone = np.ones(coverage.shape, bool) if toned or k else None
        halftone = None if tone is None else Halftone(35.0, 22.5 + 15 * k, "ellipse")
        made.append(
            Plate(
                k + 1,
                f"ink {k + 1}",
                "colour",
                grey_ink(f"ink {k + 1}"),
                (200, 40, 30),
                (200, 40, 30),
                coverage,
                coverage,
                tone,
                1,
                False,
                halftone,
                Mesh(77, 55),
                0.3,
            )
        )
    art = Artwork(
        np.zeros((height, width, 3), np.uint8),
        np.full((height, width), 255, np.uint8),
        width / dpi * 25.4,
        height / dpi * 25.4,
        "lantern.png",
    )
    garment = Garment("black tee", "tee", (26, 26, 28), (9.0, 0.0, -1.0), np.full(31, 0.01), 180.0, 1.0, 0.0)
    return write_folder(folder, Separation(art, garment, tuple(made), 1.0, 2.0), making=FilmMaking(film_dpi))


def grey_ink(name: str) -> Ink:
    """An ink of that name; its colour does not matter."""
    return ink_from_swatch(name, (128, 128, 128))


def write_folder(folder: Path, separation: Separation, *, making: FilmMaking | None = None) -> Path:
    """Write the planes and the record of a separation, as a print folder holds them; no films and no pictures."""
    art, plates = separation.artwork, separation.plates
    making = making or FilmMaking(720.0)
    height_px, width_px = art.alpha.shape
    folder.mkdir(parents=True, exist_ok=True)
    record = PrintRecord(
        artwork=ArtFacts(art.source, width_px, height_px, art.width_mm, art.height_mm),
        garment=separation.garment,
        plates=write_plates(folder, plates, dpi=art.dpi),
        film=FilmFacts(making, *film_size_px(art.width_mm, art.height_mm, making.dpi)),
        mean_de00=separation.mean_de00,
        p95_de00=separation.p95_de00,
        findings=separation.findings,
    )
    write_record(folder, record_json(record))
    return folder
