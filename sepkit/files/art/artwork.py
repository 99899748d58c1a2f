"""The door for artwork: any file in, one Artwork out, upright sRGB and alpha with its size on the garment.

In: PNG, JPEG, TIFF, WebP, GIF, BMP, SVG or PDF (told by content, not by the name's ending). Out: model.Artwork with a
finding for all that was changed or assumed. Size in mm: what the caller gives, else what the file says.
A vector page is rendered at the resolution its detail needs, up to the film's (detail.py).
Every failure is an ArtworkError (or UsageError for a size that makes no sense) of one line.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import ArtworkError, UsageError
from sepkit.files.art.detail import BASE_DPI, render_in_detail
from sepkit.files.art.pages import is_pdf, open_pdf
from sepkit.files.art.picture import Drawing, Picture
from sepkit.files.art.plates import brought_artwork
from sepkit.files.art.raster import FORMATS_FOR_PEOPLE, read_raster
from sepkit.files.art.reduce import MOST_PX
from sepkit.files.art.vector import is_svg, open_svg
from sepkit.film.rows import LEAST_DPI, MOST_DPI
from sepkit.model import Artwork, Finding
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8, SeparateBy

LEAST_MM = 1.0
MOST_MM = 3000.0
PLAUSIBLE_DPI = 100.0
"""Programs write 72 or 96 dpi into every picture; below this the file's own dpi is no statement about print size."""
SAME_ASPECT = 0.005
TINY_PX = 32

_HEAD_BYTES = 4096


def read_artwork(
    path: str | os.PathLike[str],
    *,
    width_mm: float | None = None,
    height_mm: float | None = None,
    film_dpi: float = 720.0,
    by: SeparateBy = "colour",
) -> Artwork:
    """Read artwork from a file.

    Parameters
    ----------
    path
        The file.
    width_mm, height_mm
        Print size, 1 to 3000 mm. One is enough; both must keep the art's proportions. Without them the file's own
        size counts: dpi of 100 and more in a picture, physical units of an SVG, the page of a PDF.
    film_dpi
        Resolution of the film, at most which vector art is rendered.
    by
        Whether the art's own plates are wanted: the inks that a PDF names ("plate"; "auto": where it names any), the
        named layers of an SVG ("layer").

    Raises
    ------
    ArtworkError
        The file is missing, no picture, broken, too large, has no size of its own, or nothing in it prints.
    UsageError
        A size out of range or of other proportions than the art, or plates of art that has none.
    """
    _check_given(width_mm, "width")
    _check_given(height_mm, "height")
    if not LEAST_DPI <= film_dpi <= MOST_DPI:  # also refuses nan
        raise UsageError(
            f"{film_dpi:g} dpi is outside {LEAST_DPI:g} to {MOST_DPI:g}", where="film", hint="720 suits most printers"
        )
    file = Path(path)
    head = _head(file)
    _check_by(by, head, file.name)
    if is_svg(head) or is_pdf(head):
        drawing = open_svg(file, by=by) if is_svg(head) else open_pdf(file, by=by)
        try:
            return _from_drawing(drawing, file.name, width_mm, height_mm, film_dpi)
        finally:
            drawing.close()
    return _from_picture(read_raster(file, most_px=MOST_PX), file.name, width_mm, height_mm)


def _from_picture(picture: Picture, name: str, width_mm: float | None, height_mm: float | None) -> Artwork:
    findings = list(picture.findings)
    across, down = picture.dpi or (1.0, 1.0)
    width_px, height_px = picture.full_px or picture.alpha.shape[::-1]
    aspect = height_px / width_px * (across / down)
    own = width_px * MM_PER_INCH / across if picture.dpi and min(across, down) >= PLAUSIBLE_DPI else None
    width, height = _size(name, aspect, own, width_mm, height_mm)
    if width_mm is None and height_mm is None:
        findings.append(
            Finding(
                "size-from-file",
                "info",
                f"printed {width:.1f} x {height:.1f} mm, as the file's {across:.0f} dpi make it",
                "give --width to print another size",
            )
        )
    rgb, alpha = picture.rgb, picture.alpha
    if picture.full_px is not None:
        findings.append(_fewer_pixels(picture.full_px, alpha.shape[1], width))
    if abs(across / down - 1) > 0.01:
        rgb, alpha = _square_pixels(rgb, alpha, aspect)
        findings.append(Finding("pixels-squared", "info", f"pixels of {across:.0f} x {down:.0f} dpi were made square"))
    return _artwork(rgb, alpha, (width, height), name, findings, vector=False)


def _fewer_pixels(full_px: tuple[int, int], width_px: int, width_mm: float) -> Finding:
    dpi = width_px * MM_PER_INCH / width_mm
    whole, kept = full_px[0] * full_px[1] / 1e6, MOST_PX / 1e6
    text = f"{whole:.0f} million pixels were averaged to {kept:.0f} million, {dpi:.0f} dpi"
    if dpi >= BASE_DPI:
        return Finding("pixels-reduced", "info", text)
    return Finding("pixels-reduced", "warn", text, "split the art, or print it smaller, if fine lines suffer")


def _from_drawing(
    drawing: Drawing, name: str, width_mm: float | None, height_mm: float | None, film_dpi: float
) -> Artwork:
    width, height = _size(name, drawing.aspect, drawing.width_mm, width_mm, height_mm)
    findings = list(drawing.findings)
    if width_mm is None and height_mm is None:
        findings.append(
            Finding(
                "size-from-file",
                "info",
                f"printed {width:.1f} x {height:.1f} mm, as the file's page",
                "give --width to print another size",
            )
        )
    pixels, note = render_in_detail(drawing, name, width_mm=width, film_dpi=film_dpi)
    findings.append(note)
    if drawing.plates is not None:
        brought = drawing.plates(pixels.shape[1])
        if brought.plates:
            return brought_artwork(pixels, brought.plates, (width, height), name, [*findings, *brought.findings])
    return _artwork(pixels[..., :3], pixels[..., 3], (width, height), name, findings, vector=True)


def _check_by(by: SeparateBy, head: bytes, name: str) -> None:
    """Raise UsageError for plates of art that cannot have them."""
    wrong = (by == "plate" and not is_pdf(head)) or (by == "layer" and not is_svg(head))
    if wrong:
        kind = "a PDF names inks" if by == "plate" else "an SVG has named layers"
        raise UsageError(f"only {kind}", where=name, hint="leave --by out: it is parted by its colours")


def _artwork(
    rgb: U8, alpha: U8, size_mm: tuple[float, float], name: str, findings: list[Finding], *, vector: bool
) -> Artwork:
    if not alpha.any():
        raise ArtworkError("no art: every pixel is transparent", where=name, hint="export the layers that print")
    if max(alpha.shape) < TINY_PX:
        findings.append(
            Finding(
                "tiny",
                "warn",
                f"the art has only {alpha.shape[1]} x {alpha.shape[0]} pixels",
                "export it larger, or as SVG or PDF",
            )
        )
    return Artwork(
        rgb=np.ascontiguousarray(rgb),
        alpha=np.ascontiguousarray(alpha),
        width_mm=size_mm[0],
        height_mm=size_mm[1],
        source=name,
        vector=vector,
        findings=tuple(findings),
    )


def _size(
    name: str, aspect: float, own_width: float | None, width_mm: float | None, height_mm: float | None
) -> tuple[float, float]:
    """Return (width, height) in mm."""
    if width_mm is not None and height_mm is not None:
        right = width_mm * aspect
        if abs(height_mm - right) > max(SAME_ASPECT * right, 0.05):
            raise UsageError(
                f"{width_mm:g} x {height_mm:g} mm would stretch the art",
                where=name,
                hint=f"give only the width, or --height {right:.1f}mm",
            )
    elif height_mm is not None:
        width_mm = height_mm / aspect
    elif width_mm is None:
        if own_width is None:
            raise ArtworkError("does not say how large it prints", where=name, hint="give --width 300mm")
        width_mm = own_width
    height = width_mm * aspect
    if not LEAST_MM <= width_mm <= MOST_MM or not 0.0 < height <= MOST_MM:
        raise ArtworkError(
            f"would print {width_mm:.4g} x {height:.4g} mm, outside {LEAST_MM:g} to {MOST_MM:g} mm",
            where=name,
            hint="give --width within the range",
        )
    return width_mm, height


def _check_given(size_mm: float | None, side: str) -> None:
    if size_mm is not None and not LEAST_MM <= size_mm <= MOST_MM:  # also refuses nan
        raise UsageError(
            f"{size_mm:g} mm is outside {LEAST_MM:g} to {MOST_MM:g} mm", where=side, hint=f"give --{side} 300mm"
        )


def _square_pixels(rgb: U8, alpha: U8, aspect: float) -> tuple[U8, U8]:
    """Stretch the coarser direction so that pixels are square; colours weighted by alpha."""
    from PIL import Image

    height_px, width_px = alpha.shape
    wanted = width_px * aspect
    size = (width_px, max(round(wanted), 1)) if wanted >= height_px else (max(round(height_px / aspect), 1), height_px)
    full = Image.fromarray(np.dstack([rgb, alpha])).convert("RGBa")
    resized = np.array(full.resize(size, Image.Resampling.BICUBIC).convert("RGBA"))
    return resized[..., :3], resized[..., 3]


def _head(file: Path) -> bytes:
    """Return the first bytes of a file that can be read."""
    try:
        mode = file.stat().st_mode
        if stat.S_ISDIR(mode):
            raise ArtworkError("is a folder", where=file.name or str(file), hint="give a picture in it")
        if not stat.S_ISREG(mode):
            raise ArtworkError("is not a file", where=file.name, hint=f"give {FORMATS_FOR_PEOPLE}")
        with file.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
    except FileNotFoundError as error:
        raise ArtworkError("there is no such file", where=str(file), hint="check the name and folder") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ArtworkError(f"cannot be read: {reason}", where=str(file), hint="check the file's rights") from error
    if not head:
        raise ArtworkError("is empty (0 bytes)", where=file.name, hint="export or copy it again")
    return head
