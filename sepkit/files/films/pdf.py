"""Films as PDF: one page a film, each film a 1-bit image mask at true size, marks in vectors, written in bands.

In: FilmPages (made now, band by band) or SpooledPages (compressed before, copied). Out: a PDF of version 1.6 whose page
boxes are whole film pixels. Memory is one band, whatever the sheet. Sources: ISO 32000-1:2008, 8.9.6.2 (stencil
masks), 7.4.4 (Flate). An image mask, because readers draw it pixel for pixel, while they resample grey images.
"""

from __future__ import annotations

import zlib
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from sepkit.files.films.disk import film_file
from sepkit.files.films.pdf_objects import PdfObjects, number, text_string
from sepkit.film.page import FilmPage, Mark, Solid

if TYPE_CHECKING:
    from sepkit.film.rows import Film

FLATE_LEVEL = 1
CHUNK = 1 << 20
PAGE_INSET_PX = 0.001
MASK_INSET_PX = 0.002
"""Readers round pages up and masks outwards to whole pixels: a hair inside, no rounding error adds a pixel."""


@dataclass(frozen=True, slots=True)
class SpooledMask:
    """A compressed mask inside a file, and its place on the page in film pixels from the top left."""

    path: Path
    start: int
    size: int
    width_px: int
    height_px: int
    x_px: int
    y_px: int


@dataclass(frozen=True, slots=True)
class SpooledPage:
    """A page whose masks lie compressed in a file that was written before."""

    title: str
    width_px: int
    height_px: int
    dpi: float
    masks: tuple[SpooledMask, ...]
    marks: tuple[Mark, ...]
    all_colours: bool


def write_film_pdf(path: str | Path, pages: Iterable[FilmPage | SpooledPage], *, title: str = "") -> list[SpooledPage]:
    """Write ``pages`` to ``path``; return them as pages that a second file can copy without compressing again.

    Raises WriteError when the disk refuses; the file is then incomplete and the caller's to remove (files.write).
    """
    with film_file(path) as file:
        return write_film_pages(file, pages, path=Path(path), title=title)


def write_film_pages(
    file: BinaryIO, pages: Iterable[FilmPage | SpooledPage], *, path: Path, title: str = ""
) -> list[SpooledPage]:
    """Write a film PDF to an open binary file; ``path`` is what the returned pages refer to."""
    pdf = PdfObjects(file)
    tree = pdf.reserve()
    kids: list[int] = []
    written: list[SpooledPage] = []
    for page in pages:
        kid, spooled = _page(pdf, page, tree, path)
        kids.append(kid)
        written.append(spooled)
    refs = " ".join(f"{k} 0 R" for k in kids)
    pdf.put(f"<< /Type /Pages /Kids [{refs}] /Count {len(kids)} >>", number=tree)
    # No scaling to the sheet: a film is of use at its true size only (ISO 32000-1, 12.2).
    root = pdf.put(f"<< /Type /Catalog /Pages {tree} 0 R /ViewerPreferences << /PrintScaling /None >> >>")
    heading = title or (written[0].title if written else "films")
    info = pdf.put(f"<< /Title {text_string(heading)} /Creator (sepkit) /Producer (sepkit) >>")
    pdf.finish(root=root, info=info)
    return written


def compressed(film: Film, *, level: int = FLATE_LEVEL) -> Iterator[bytes]:
    """Yield the zlib stream of a film's packed rows, band by band.

    A second thread compresses one band while the next is made: zlib lets go of the interpreter.
    """
    packer = zlib.compressobj(level)
    with ThreadPoolExecutor(1) as pool:
        waiting: deque[Future[bytes]] = deque()
        for rows in film.bands():
            waiting.append(pool.submit(packer.compress, np.ascontiguousarray(rows).data))
            if len(waiting) > 2:
                yield waiting.popleft().result()
        for data in waiting:
            yield data.result()
    yield packer.flush()


def _page(pdf: PdfObjects, page: FilmPage | SpooledPage, tree: int, path: Path) -> tuple[int, SpooledPage]:
    masks: list[SpooledMask] = []
    images: list[int] = []
    for source in page.films if isinstance(page, FilmPage) else page.masks:
        film = source if isinstance(source, SpooledMask) else source.film
        chunks = _copied(source) if isinstance(source, SpooledMask) else compressed(source.film)
        entries = (
            f"/Type /XObject /Subtype /Image /ImageMask true /BitsPerComponent 1 /Decode [1 0] "
            f"/Width {film.width_px} /Height {film.height_px} /Filter /FlateDecode"
        )
        image, start, size = pdf.stream(entries, chunks)
        images.append(image)
        masks.append(SpooledMask(path, start, size, film.width_px, film.height_px, source.x_px, source.y_px))
    content = _content(page, masks).encode("latin-1")
    body, _, _ = pdf.stream("/Filter /FlateDecode", [zlib.compress(content, 6)])
    width, height = ((px - PAGE_INSET_PX) * 72 / page.dpi for px in (page.width_px, page.height_px))
    box = f"[0 0 {number(width)} {number(height)}]"
    names = " ".join(f"/M{k} {image} 0 R" for k, image in enumerate(images))
    kid = pdf.put(
        f"<< /Type /Page /Parent {tree} 0 R /MediaBox {box} /TrimBox {box} "
        f"/Resources << /XObject << {names} >> >> /Contents {body} 0 R >>"
    )
    spooled = SpooledPage(
        page.title, page.width_px, page.height_px, page.dpi, tuple(masks), page.marks, page.all_colours
    )
    return kid, spooled


def _content(page: FilmPage | SpooledPage, masks: Sequence[SpooledMask]) -> str:
    scale = 72 / page.dpi
    top = (page.height_px - PAGE_INSET_PX) * scale
    paint = "1 1 1 1 k 1 1 1 1 K" if page.all_colours else "0 g 0 G"
    lines = [paint]
    for k, mask in enumerate(masks):
        x = (mask.x_px + MASK_INSET_PX) * scale
        y = top - (mask.y_px + mask.height_px - MASK_INSET_PX) * scale
        across, down = ((px - 2 * MASK_INSET_PX) * scale for px in (mask.width_px, mask.height_px))
        size = f"{number(across)} 0 0 {number(down)}"
        lines.append(f"q {size} {number(x)} {number(y)} cm /M{k} Do Q")
    lines.append("1 J 1 j")
    mm = 72 / 25.4
    for mark in page.marks:
        points = [f"{number(px * mm)} {number(top - py * mm)}" for px, py in mark.points]
        path = f"{points[0]} m " + " ".join(f"{p} l" for p in points[1:])
        if isinstance(mark, Solid):
            lines.append(f"{path} h f")
        else:
            lines.append(f"{number(mark.width_mm * mm)} w {path} {'s' if mark.closed else 'S'}")
    return "\n".join(lines) + "\n"


def _copied(mask: SpooledMask) -> Iterator[bytes]:
    with mask.path.open("rb") as file:
        file.seek(mask.start)
        left = mask.size
        while left:
            data = file.read(min(CHUNK, left))
            if not data:
                raise OSError(f"{mask.path} is shorter than it was")
            left -= len(data)
            yield data
