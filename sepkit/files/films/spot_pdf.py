"""One composite page with a named spot colour per screen: what a film bureau's output device separates itself.

In: plates in print order and the print's size in mm. Out: a PDF 1.6 with the art as one image in all inks (DeviceN),
8 bits an ink at the plates' own resolution, written in bands; a Separation colour for each ink with Lab (D65);
overprint on, trim box, document metadata. Screening is left to the device. No standard beyond ISO 32000 is claimed.

One image says every ink of every pixel, so that no viewer and no device can knock one out under another. Outside the
trim box, in the colour All and so on every film: register targets, the title, and each screen's number and name beside
a box. The box is filled in its own ink: on a film, the black box tells which it is; on the composite, it is the swatch.

Sources: ISO 32000-1:2008, 8.6.6.4 (All), 8.6.7 (overprint), 14.11.2 (page boundaries), 14.3.2 (metadata streams).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bands import check_coverage, row_bands
from sepkit.files.films.disk import film_file
from sepkit.files.films.pdf_objects import PdfObjects, number, text_string
from sepkit.files.films.spot_colours import PAPER, all_inks_space, lab_space, separation_space
from sepkit.film.lettering import text_strokes, text_width_mm
from sepkit.units import mm_to_pt

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Plate

MARGIN_MM = 20.0
TARGET_MM = 10.0
LETTER_MM = 2.6
TITLE_MM = 3.2
LINE_MM = 5.0
SWATCH_MM = 3.6
FLATE_LEVEL = 1
BAND_ROWS = 64
UP = 2
"""A row's filter as PNG numbers them: the difference from the row above (ISO 32000-1, 7.4.4.4)."""
REGISTRATION: RGB8 = (0, 0, 0)


def write_spot_pdf(
    path: str | Path,
    plates: Sequence[Plate],
    *,
    width_mm: float,
    height_mm: float,
    title: str,
    garment: RGB8 = PAPER,
) -> list[str]:
    """Write the composite and return the colour names, one per plate.

    Each ink is shown in the colour that its plate is predicted to print; ``garment`` is what viewers show where nothing
    prints. Raises WriteError when the disk refuses, ValueError for no plates, too many, or plates of different size.
    """
    if not plates:
        raise ValueError("a composite needs at least one plate")
    names = spot_names(plates)
    with film_file(path) as file:
        _write(PdfObjects(file), plates, names, (width_mm, height_mm), title, garment)
    return names


def spot_names(plates: Sequence[Plate]) -> list[str]:
    """Return one colour name per screen: its ink, or its plate where the ink has no name or prints on two screens."""
    inks = [plate.ink.name for plate in plates]
    names: list[str] = []
    for plate in plates:
        ink = plate.ink.name
        named = bool(ink) and not ink.startswith("#")
        text = ink if named and inks.count(ink) == 1 else plate.name
        if text == "All" or text == "None" or text in names:
            text = f"{text} {plate.order}"
        names.append(text)
    return names


def _write(
    pdf: PdfObjects,
    plates: Sequence[Plate],
    names: Sequence[str],
    size_mm: tuple[float, float],
    title: str,
    garment: RGB8,
) -> None:
    tree = pdf.reserve()
    lab = lab_space(pdf)
    colours = [plate.print_srgb for plate in plates]
    spaces = [separation_space(pdf, text, colour, lab=lab) for text, colour in zip(names, colours, strict=True)]
    registration = separation_space(pdf, "All", REGISTRATION, lab=lab)
    every = all_inks_space(pdf, names, colours, spaces, garment=garment, lab=lab)
    image = _image(pdf, [plate.printed for plate in plates], every)
    state = pdf.put("<< /Type /ExtGState /OP true /op true /OPM 1 >>")
    content = _content(names, size_mm, title).encode("latin-1")
    body, _, _ = pdf.stream("/Filter /FlateDecode", [zlib.compress(content)])
    page_w, page_h = _page_mm(len(names), size_mm)
    low = page_h - MARGIN_MM - size_mm[1]
    trim = [MARGIN_MM, low, MARGIN_MM + size_mm[0], low + size_mm[1]]
    named = " ".join(f"/S{k} {space} 0 R" for k, space in enumerate([*spaces, registration]))
    kid = pdf.put(
        f"<< /Type /Page /Parent {tree} 0 R /MediaBox [0 0 {_pt(page_w)} {_pt(page_h)}] "
        f"/TrimBox [{' '.join(_pt(v) for v in trim)}] /Resources << /ExtGState << /G {state} 0 R >> "
        f"/ColorSpace << {named} >> /XObject << /Art {image} 0 R >> >> /Contents {body} 0 R >>"
    )
    pdf.put(f"<< /Type /Pages /Kids [{kid} 0 R] /Count 1 >>", number=tree)
    trapped = "True" if any(plate.trap_mm or plate.choke_mm for plate in plates) else "False"
    packet = _metadata(title, names, trapped=trapped).encode()
    metadata, _, _ = pdf.stream("/Type /Metadata /Subtype /XML", [packet])
    root = pdf.put(
        f"<< /Type /Catalog /Pages {tree} 0 R /Metadata {metadata} 0 R /ViewerPreferences << /PrintScaling /None >> >>"
    )
    info = pdf.put(f"<< /Title {text_string(title)} /Creator (sepkit) /Producer (sepkit) /Trapped /{trapped} >>")
    pdf.finish(root=root, info=info)


def _image(pdf: PdfObjects, planes: Sequence[U8], space: int) -> int:
    height, width = planes[0].shape
    for plane in planes:
        check_coverage(plane, name="printed")
        if plane.shape != (height, width):
            raise ValueError(f"plates of different size: {plane.shape} and {planes[0].shape}")
    entries = (
        f"/Type /XObject /Subtype /Image /Width {width} /Height {height} /Filter /FlateDecode "
        f"/ColorSpace {space} 0 R /BitsPerComponent 8 "
        f"/DecodeParms << /Predictor 12 /Colors {len(planes)} /Columns {width} >>"
    )
    return pdf.stream(entries, _flate(planes))[0]


def _flate(planes: Sequence[U8]) -> Iterator[bytes]:
    """Yield the compressed pixels, one byte for each ink in turn, each row as its difference from the one above.

    Flat art is then nearly all zeros, and deflates several times faster.
    """
    packer = zlib.compressobj(FLATE_LEVEL)
    height, width = planes[0].shape
    for band in row_bands(height, BAND_ROWS):
        lines = np.empty((band.stop - band.start, 1 + width * len(planes)), np.uint8)
        lines[:, 0] = UP
        pixels = lines[:, 1:].reshape(len(lines), width, len(planes))
        for k, plane in enumerate(planes):
            first = max(band.start - 1, 0)
            rows = plane[first : band.stop]
            above = rows[:-1] if band.start else np.concatenate([np.zeros_like(rows[:1]), rows[:-1]])
            np.subtract(rows[band.start - first :], above, out=pixels[..., k])
        if data := packer.compress(lines.data):
            yield data
    yield packer.flush()


def _page_mm(inks: int, size_mm: tuple[float, float]) -> tuple[float, float]:
    return size_mm[0] + 2 * MARGIN_MM, size_mm[1] + 2 * MARGIN_MM + (inks + 1) * LINE_MM


def _content(names: Sequence[str], size_mm: tuple[float, float], title: str) -> str:
    page_w, page_h = _page_mm(len(names), size_mm)
    left, top = MARGIN_MM, page_h - MARGIN_MM
    low = top - size_mm[1]
    lines = ["/G gs", f"q {_pt(size_mm[0])} 0 0 {_pt(size_mm[1])} {_pt(left)} {_pt(low)} cm /Art Do Q"]
    lines.append(f"/S{len(names)} CS 1 SCN {_pt(0.25)} w 1 J 1 j")
    mid_x, mid_y, off = left + size_mm[0] / 2, low + size_mm[1] / 2, TARGET_MM / 2 + 3
    for x, y in ((mid_x, top + off), (mid_x, low - off), (left - off, mid_y), (page_w - left + off, mid_y)):
        r = TARGET_MM / 2
        lines.append(
            f"{_pt(x - r)} {_pt(y)} m {_pt(x + r)} {_pt(y)} l S {_pt(x)} {_pt(y - r)} m {_pt(x)} {_pt(y + r)} l S"
        )
        lines.append(_circle(x, y, 2.0))
    x, y, room = TARGET_MM, low - MARGIN_MM + 2, page_w - 2 * TARGET_MM
    heading = f"{title} · the filled box names the film"
    lines += _text(heading, x, y, TITLE_MM, room)
    for k, text in enumerate(names):
        y -= LINE_MM
        lines += _text(f"{k + 1} {text}", x + SWATCH_MM + 2, y, LETTER_MM, room - SWATCH_MM - 2)
        box = f"{_pt(x)} {_pt(y - 0.5)} {_pt(SWATCH_MM)} {_pt(SWATCH_MM)} re"
        lines.append(f"/S{k} cs 1 scn {box} f {_pt(0.25)} w {box} S")
    return "\n".join(lines) + "\n"


def _text(text: str, x: float, y: float, height: float, room: float) -> list[str]:
    """Return strokes of text on a baseline, smaller where it would not fit."""
    height *= min(1.0, room / max(text_width_mm(text, height), 1e-6))
    lines = [f"{_pt(height * 0.11)} w"]
    for stroke in text_strokes(text, x_mm=x, y_mm=0.0, height_mm=height):
        points = [f"{_pt(px)} {_pt(y - py)}" for px, py in stroke]
        lines.append(f"{points[0]} m " + " ".join(f"{p} l" for p in points[1:]) + " S")
    return lines


def _circle(x: float, y: float, r: float) -> str:
    """Return a circle as four curves; 0.5523 is the usual fit of a quarter circle by a cubic."""
    c = 0.5523 * r
    curves = [
        (x + r, y + c, x + c, y + r, x, y + r),
        (x - c, y + r, x - r, y + c, x - r, y),
        (x - r, y - c, x - c, y - r, x, y - r),
        (x + c, y - r, x + r, y - c, x + r, y),
    ]
    return f"{_pt(x + r)} {_pt(y)} m " + " ".join(" ".join(_pt(v) for v in curve) + " c" for curve in curves) + " s"


def _metadata(title: str, names: Sequence[str], *, trapped: str) -> str:
    subjects = "".join(f"<rdf:li>{escape(text)}</rdf:li>" for text in names)
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">\n'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" '
        'xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">\n'
        f'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(title)}</rdf:li></rdf:Alt></dc:title>\n'
        f"<dc:subject><rdf:Bag>{subjects}</rdf:Bag></dc:subject>\n"
        f"<xmp:CreatorTool>sepkit</xmp:CreatorTool><pdf:Producer>sepkit</pdf:Producer>"
        f"<pdf:Trapped>{trapped}</pdf:Trapped>\n"
        "</rdf:Description></rdf:RDF></x:xmpmeta>\n"
        '<?xpacket end="r"?>\n'
    )


def _pt(mm: float) -> str:
    return number(mm_to_pt(mm))
