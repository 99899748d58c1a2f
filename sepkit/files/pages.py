"""PDF artwork: the first page, rendered with alpha on a clear ground at any width.

In: a file. Out: a Drawing. Page size: crop box and rotation as viewers show it, times UserUnit.
Source: ISO 32000-1, 14.11.2 (page boxes), 8.3.2.3 (user unit 1/72 in), 8.6 (colour spaces).
Pictures on the page are asked for their declared pixels before anything is drawn. The renderer works in RGB: CMYK and
spot colours are converted by it, which is said in a finding.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import ArtworkError
from sepkit.files.picture import Drawing, check_pixels
from sepkit.files.raster import quiet_decoders
from sepkit.model import Finding
from sepkit.units import MM_PER_INCH, PT_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8

MAX_BYTES = 500_000_000
LEAST_IMAGE_SHARE = 0.1
"""A placed picture narrower than this share of the page does not decide the rendering's resolution."""

_SIGNATURE_WITHIN = 1024
_MOST_FORMS = 200
_PROCESS = re.compile(rb"(?<![\w.])[kK](?![\w.])")
_LARGE_STREAM = 5_000_000


def is_pdf(head: bytes) -> bool:
    """Return True when the first bytes hold the PDF signature (viewers accept it within the first 1024)."""
    return b"%PDF-" in head[:_SIGNATURE_WITHIN]


def open_pdf(path: Path) -> Drawing:
    """Open page 1 of a PDF. Raises ArtworkError when it is locked, broken, empty, or holds too large a picture."""
    import pypdfium2 as pdfium

    if path.stat().st_size > MAX_BYTES:
        raise ArtworkError(f"the PDF is over {MAX_BYTES // 1_000_000} MB", where=path.name, hint="make it smaller")
    data = path.read_bytes()
    try:
        document = pdfium.PdfDocument(data)
        count = len(document)
        page = document[0] if count else None
    except pdfium.PdfiumError as error:
        if "password" in str(error).lower():
            raise ArtworkError("is locked with a password", where=path.name, hint="save it without one") from error
        text = "the PDF has no pages" if _has_no_pages(data) else "the PDF is broken or cut short"
        raise ArtworkError(text, where=path.name, hint="export it again") from error
    if page is None:
        raise ArtworkError("the PDF has no pages", where=path.name, hint="export it again")
    width_pt, height_pt = page.get_size()
    if not (width_pt > 0 and height_pt > 0):
        raise ArtworkError("its page has no size", where=path.name, hint="export it again")
    findings: list[Finding] = []
    if count > 1:
        findings.append(Finding("first-page", "info", f"{count} pages in the file; the first is used"))
    user_unit = _look_inside(data, findings)

    def render(width_px: int) -> U8:
        return _render(page, path.name, scale=(width_px - 1e-3) / width_pt)

    return Drawing(
        aspect=height_pt / width_pt,
        width_mm=width_pt * user_unit / PT_PER_INCH * MM_PER_INCH,
        render=render,
        image_px=_finest_picture(page, width_pt, path.name),
        findings=findings,
    )


def _has_no_pages(data: bytes) -> bool:
    import pikepdf

    try:
        with quiet_decoders(), pikepdf.open(io.BytesIO(data)) as pdf:
            return len(pdf.pages) == 0
    except Exception:  # broken in a way that this reader cannot mend either
        return False


def _render(page: Any, where: str, *, scale: float) -> U8:
    import pypdfium2 as pdfium

    try:
        bitmap = page.render(scale=scale, fill_color=(0, 0, 0, 0), rev_byteorder=True, draw_annots=False)
        pixels = np.array(bitmap.to_numpy())
        bitmap.close()
    except (pdfium.PdfiumError, MemoryError, ValueError) as error:
        raise ArtworkError("the page cannot be drawn", where=where, hint="export it as PNG at 300 dpi") from error
    if pixels.ndim != 3 or pixels.shape[2] != 4:
        raise ArtworkError("the page cannot be drawn with transparency", where=where, hint="export it as PNG")
    return pixels


def _finest_picture(page: Any, width_pt: float, where: str) -> float:
    """Return the page width in pixels at which the finest large picture keeps its pixels; check declared sizes."""
    import pypdfium2 as pdfium

    needed = 0.0
    try:
        for picture in page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE]):
            width_px, height_px = picture.get_px_size()
            check_pixels(width_px, height_px, where, what="a picture on the page")
            left, _, right, _ = picture.get_bounds()
            if right - left >= LEAST_IMAGE_SHARE * width_pt:
                needed = max(needed, width_px * width_pt / (right - left))
    except pdfium.PdfiumError as error:
        raise ArtworkError("the PDF is broken or cut short", where=where, hint="export it again") from error
    return needed


def _look_inside(data: bytes, findings: list[Finding]) -> float:
    """Return the page's UserUnit, and tell when it uses CMYK or spot colours. A page that cannot be parsed says 1."""
    import pikepdf

    try:
        with quiet_decoders(), pikepdf.open(io.BytesIO(data)) as pdf:
            page = pdf.pages[0].obj
            unit = float(page.get("/UserUnit", 1))
            spaces = _colour_spaces(page)
            contents = pikepdf.Page(page)
            contents.contents_coalesce()
            stream = page.get("/Contents")
            if stream is not None:
                text = bytes(stream.read_bytes())
                if len(text) <= _LARGE_STREAM and _PROCESS.search(text):
                    spaces.add("/DeviceCMYK")
    except Exception:  # the renderer has opened it; what this second reader cannot parse only loses a remark
        return 1.0
    if spaces & {"/Separation", "/DeviceN"}:
        findings.append(
            Finding(
                "spot-converted",
                "info",
                "spot colours on the page were converted to sRGB by their stand-in colours",
                "name the inks with --inks if they come out wrong",
            )
        )
    if "/DeviceCMYK" in spaces:
        findings.append(
            Finding(
                "cmyk-default",
                "warn",
                "CMYK colours on the page were converted to sRGB without their profile",
                "save it as sRGB if the colours look wrong",
            )
        )
    return unit if 0.01 <= unit <= 1000 else 1.0


def _colour_spaces(page: Any) -> set[str]:
    """Return the families of colour spaces that the page's resources name, forms on it included."""
    found: set[str] = set()
    waiting = [page.get("/Resources")]
    for _ in range(_MOST_FORMS):
        if not waiting:
            break
        resources = waiting.pop()
        if resources is None:
            continue
        for space in dict(resources.get("/ColorSpace", {})).values():
            found.add(_family(space))
        for item in dict(resources.get("/XObject", {})).values():
            if "/ColorSpace" in item:
                found.add(_family(item["/ColorSpace"]))
            waiting.append(item.get("/Resources"))
    return found


def _family(space: Any) -> str:
    try:
        return str(space) if not len(space) or str(space).startswith("/") else str(space[0])
    except (TypeError, ValueError):
        return str(space)
