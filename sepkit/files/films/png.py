"""Films as PNG: 1-bit grey, ink black, true size in pHYs, written in bands.

In: a FilmPage. Out: a PNG.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.files.films.disk import film_file
from sepkit.files.png import PngHead, write_png
from sepkit.film.raster import page_rows

if TYPE_CHECKING:
    from sepkit.film.page import FilmPage


def write_film_png(path: str | Path, page: FilmPage) -> None:
    """Write one film page. Raises WriteError when the disk refuses."""
    head = PngHead(page.width_px, page.height_px, "bits", page.dpi)
    with film_file(path) as file:
        write_png(file, head, (np.invert(rows) for rows in page_rows(page)))  # grey 0 is black
