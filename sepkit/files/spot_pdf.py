"""One composite page with a named spot colour per screen: what a film bureau's output device separates itself.

In: plates in print order and the print's size in mm. Out: a PDF 1.6 with one Separation colour per screen, alternate
Lab (D65), overprint on, trim box, document metadata. Each plate is an 8-bit image in its own colour at the plates' own
resolution, painted only where it has ink; register targets are in the colour All. Screening is left to the device.
No standard beyond ISO 32000 is claimed.

Sources: ISO 32000-1:2008, 8.6.6.4 (Separation), 8.6.5.4 (Lab), 8.6.7 (overprint), 8.9.6.3 (explicit masks),
14.11.2 (page boundaries), 14.3.2 (metadata streams). Overprint is on because knocking out would take the base away
under every colour.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.bands import check_coverage, pack_bits, row_bands
from sepkit.colorimetry.srgb import WHITE_D65, srgb8_to_lab
from sepkit.errors import WriteError
from sepkit.files.pdf_objects import PdfObjects, name, number, text_string
from sepkit.film.lettering import text_strokes, text_width_mm
from sepkit.units import mm_to_pt

if TYPE_CHECKING:
    from sepkit.model import LAB, U8, Plate

MARGIN_MM = 20.0
TARGET_MM = 10.0
LETTER_MM = 2.6
LINE_MM = 4.5
FLATE_LEVEL = 3
BAND_ROWS = 256

Overprint = Literal["on", "off"]


def write_spot_pdf(
    path: str | Path,
    plates: Sequence[Plate],
    *,
    width_mm: float,
    height_mm: float,
    title: str,
    lab_of: Mapping[str, LAB] | Sequence[LAB] | None = None,
    overprint: Overprint = "on",
) -> list[str]:
    """Write the composite and return the colour names, one per plate.

    ``lab_of`` gives each ink's Lab (D65/2): by ink name, by plate name, or in the order of ``plates``; a plate that it
    does not hold takes its predicted printed colour. Raises WriteError when the disk refuses.
    """
    if not plates:
        raise ValueError("a composite needs at least one plate")
    names = spot_names(plates)
    labs = [_lab(plate, k, lab_of) for k, plate in enumerate(plates)]
    path = Path(path)
    try:
        with path.open("wb") as file:
            _write(PdfObjects(file), plates, names, labs, (width_mm, height_mm), title, overprint)
    except OSError as error:
        raise WriteError(
            error.strerror or str(error), where=str(path), hint="free some space or choose another folder"
        ) from error
    return names


def spot_names(plates: Sequence[Plate]) -> list[str]:
    """Return one colour name per screen: its ink, or its plate where the ink has no name or prints on two screens."""
    inks = [plate.ink for plate in plates]
    names: list[str] = []
    for plate in plates:
        named = bool(plate.ink) and not plate.ink.startswith("#")
        text = plate.ink if named and inks.count(plate.ink) == 1 else plate.name
        if text == "All" or text == "None" or text in names:
            text = f"{text} {plate.order}"
        names.append(text)
    return names


def _write(
    pdf: PdfObjects,
    plates: Sequence[Plate],
    names: Sequence[str],
    labs: Sequence[LAB],
    size_mm: tuple[float, float],
    title: str,
    overprint: Overprint,
) -> None:
    tree = pdf.reserve()
    white = " ".join(number(v) for v in WHITE_D65 / WHITE_D65[1])
    lab_space = pdf.put(f"[/Lab << /WhitePoint [{white}] /Range [-128 127 -128 127] >>]")
    spaces = [_separation(pdf, text, lab, lab_space) for text, lab in zip(names, labs, strict=True)]
    registration = _separation(pdf, "All", (0.0, 0.0, 0.0), lab_space)
    images = [_image(pdf, plate.printed, space) for plate, space in zip(plates, spaces, strict=True)]
    flag = "true" if overprint == "on" else "false"
    state = pdf.put(f"<< /Type /ExtGState /OP {flag} /op {flag} /OPM {1 if overprint == 'on' else 0} >>")
    content = _content(names, size_mm).encode("latin-1")
    body, _, _ = pdf.stream("/Filter /FlateDecode", [zlib.compress(content, FLATE_LEVEL)])
    page_w, page_h = _page_mm(len(names), size_mm)
    low = page_h - MARGIN_MM - size_mm[1]
    trim = [MARGIN_MM, low, MARGIN_MM + size_mm[0], low + size_mm[1]]
    colours = " ".join(f"/S{k} {space} 0 R" for k, space in enumerate([*spaces, registration]))
    painted = " ".join(f"/P{k} {image} 0 R" for k, image in enumerate(images))
    kid = pdf.put(
        f"<< /Type /Page /Parent {tree} 0 R /MediaBox [0 0 {_pt(page_w)} {_pt(page_h)}] "
        f"/TrimBox [{' '.join(_pt(v) for v in trim)}] /Resources << /ExtGState << /G {state} 0 R >> "
        f"/ColorSpace << {colours} >> /XObject << {painted} >> >> /Contents {body} 0 R >>"
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


def _separation(pdf: PdfObjects, text: str, lab: LAB, lab_space: int) -> int:
    """Write a Separation colour that runs straight from paper white to the ink's Lab."""
    solid = " ".join(number(v) for v in lab)
    tint = pdf.put(f"<< /FunctionType 2 /Domain [0 1] /C0 [100 0 0] /C1 [{solid}] /N 1 >>")
    return pdf.put(f"[/Separation {name(text)} {lab_space} 0 R {tint} 0 R]")


def _image(pdf: PdfObjects, coverage: U8, space: int) -> int:
    check_coverage(coverage, name="printed")
    height, width = coverage.shape
    size = f"/Type /XObject /Subtype /Image /Width {width} /Height {height} /Filter /FlateDecode"
    # Mask bit 0 paints: only where there is ink, so that a viewer without overprint shows ink upon ink.
    mask, _, _ = pdf.stream(f"{size} /ImageMask true /BitsPerComponent 1", _flate(coverage, "empty"))
    image, _, _ = pdf.stream(
        f"{size} /ColorSpace {space} 0 R /BitsPerComponent 8 /Mask {mask} 0 R", _flate(coverage, "tint")
    )
    return image


def _flate(coverage: U8, what: Literal["tint", "empty"]) -> Iterator[bytes]:
    packer = zlib.compressobj(FLATE_LEVEL)
    for band in row_bands(coverage.shape[0], BAND_ROWS):
        rows = coverage[band.start : band.stop]
        data = packer.compress(rows.tobytes() if what == "tint" else pack_bits(rows == 0).tobytes())
        if data:
            yield data
    yield packer.flush()


def _page_mm(inks: int, size_mm: tuple[float, float]) -> tuple[float, float]:
    return size_mm[0] + 2 * MARGIN_MM, size_mm[1] + 2 * MARGIN_MM + inks * LINE_MM


def _content(names: Sequence[str], size_mm: tuple[float, float]) -> str:
    page_w, page_h = _page_mm(len(names), size_mm)
    left, top = MARGIN_MM, page_h - MARGIN_MM
    low = top - size_mm[1]
    place = f"{_pt(size_mm[0])} 0 0 {_pt(size_mm[1])} {_pt(left)} {_pt(low)} cm"
    lines = ["/G gs", *(f"q {place} /P{k} Do Q" for k in range(len(names)))]
    lines.append(f"/S{len(names)} CS 1 SCN {_pt(0.25)} w 1 J 1 j")
    mid_x, mid_y, off = left + size_mm[0] / 2, low + size_mm[1] / 2, TARGET_MM / 2 + 3
    for x, y in ((mid_x, top + off), (mid_x, low - off), (left - off, mid_y), (page_w - left + off, mid_y)):
        r = TARGET_MM / 2
        lines.append(
            f"{_pt(x - r)} {_pt(y)} m {_pt(x + r)} {_pt(y)} l S {_pt(x)} {_pt(y - r)} m {_pt(x)} {_pt(y + r)} l S"
        )
        lines.append(_circle(x, y, 2.0))
    for k, text in enumerate(names):
        # Each name stands in its own ink, and so on its own film.
        label, y = f"{k + 1} {text}", low - MARGIN_MM + 3 - k * LINE_MM
        height = min(LETTER_MM, LETTER_MM * size_mm[0] / max(text_width_mm(label, LETTER_MM), 1e-6))
        lines.append(f"/S{k} CS 1 SCN {_pt(0.3)} w")
        for stroke in text_strokes(label, x_mm=left, y_mm=0.0, height_mm=height):
            points = [f"{_pt(px)} {_pt(y - py)}" for px, py in stroke]
            lines.append(f"{points[0]} m " + " ".join(f"{p} l" for p in points[1:]) + " S")
    return "\n".join(lines) + "\n"


def _circle(x: float, y: float, r: float) -> str:
    """Return a circle as four curves; 0.5523 is the usual fit of a quarter circle by a cubic."""
    c = 0.5523 * r
    curves = [
        (x + r, y + c, x + c, y + r, x, y + r), (x - c, y + r, x - r, y + c, x - r, y),
        (x - r, y - c, x - c, y - r, x, y - r), (x + c, y - r, x + r, y - c, x + r, y),
    ]  # fmt: skip
    return f"{_pt(x + r)} {_pt(y)} m " + " ".join(" ".join(_pt(v) for v in curve) + " c" for curve in curves) + " s"


def _lab(plate: Plate, index: int, lab_of: Mapping[str, LAB] | Sequence[LAB] | None) -> LAB:
    if isinstance(lab_of, Mapping):
        for key in (plate.ink, plate.name):
            if key in lab_of:
                return lab_of[key]
    elif lab_of is not None:
        return lab_of[index]
    light, a, b = (float(v) for v in srgb8_to_lab(np.array(plate.print_srgb)))
    return light, a, b


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
