"""Raster artwork: PNG, JPEG, TIFF, WebP, GIF, BMP.

In: a file. Out: a Picture, upright, sRGB 8 bit with straight alpha, and findings for each thing that was changed.
The declared size is checked before any pixel is decoded. 16-bit PNG and TIFF are rounded to 8 bit (deep.py), embedded
profiles go to sRGB and CMYK without one through a documented default (profiles.py).
Sources: PNG (ISO/IEC 15948), TIFF 6.0, Exif 2.32 tag 0x0112 (orientation), JFIF (ITU-T T.871).
"""

from __future__ import annotations

import logging
import os
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, UnidentifiedImageError

from sepkit.errors import ArtworkError, SepkitError
from sepkit.files.art import deep, profiles
from sepkit.files.art.picture import MAX_PIXELS, Picture, check_pixels, turn
from sepkit.files.art.reduce import reduced
from sepkit.files.words import shown
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import U8

FORMATS = ("PNG", "JPEG", "TIFF", "WEBP", "GIF", "BMP")
FORMATS_FOR_PEOPLE = "PNG, JPEG, TIFF, WebP, GIF, BMP, SVG or PDF"

_ORIENTATION = 0x0112
_SIDEWAYS = frozenset({5, 6, 7, 8})
_WITH_ALPHA = frozenset({"RGBA", "RGBa", "LA", "La", "PA"})
_LOGGERS = ("tifffile", "pypdf", "pypdfium2")
_LIBRARY_LIMIT = threading.RLock()


def read_raster(path: Path, *, most_px: int = MAX_PIXELS) -> Picture:
    """Read a raster file; one of more than ``most_px`` pixels is kept in so many.

    Raises ArtworkError when it is no picture, is broken, or is over the pixel limit; MissingPartError when it needs
    the optional decoders of ``sepkit[tiff]``.
    """
    with quiet_decoders():
        try:
            return _read(path, most_px)
        except SepkitError:
            raise
        except MemoryError as error:
            raise ArtworkError("too big for this machine's memory", where=path.name, hint="scale it down") from error
        except UnidentifiedImageError as error:
            raise ArtworkError(
                "is not a picture that can be read", where=path.name, hint=f"give {FORMATS_FOR_PEOPLE}"
            ) from error
        except Exception as error:  # a decoder may raise anything on a broken file
            reason = shown(" ".join(str(error).split()), most=160) or type(error).__name__
            raise ArtworkError(
                f"the file is broken or cut short: {reason}", where=path.name, hint="export or copy it again"
            ) from error


@contextmanager
def quiet_decoders() -> Iterator[None]:
    """Keep decoders from warning on their own, and lift their pixel limit: check_pixels has its own message.

    The limit of the library is one global; it is put back at the end and held by a lock meanwhile.
    """
    loggers, handler = [logging.getLogger(name) for name in _LOGGERS], logging.NullHandler()
    with _LIBRARY_LIMIT, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
        before = [logger.propagate for logger in loggers]
        for logger in loggers:
            logger.propagate = False
            logger.addHandler(handler)
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = limit
            for logger, propagate in zip(loggers, before, strict=True):
                logger.propagate = propagate
                logger.removeHandler(handler)


@contextmanager
def _quiet_stderr() -> Iterator[None]:
    """Send what C code writes to file descriptor 2 nowhere; the TIFF decoder below Pillow prints its errors there."""
    try:
        kept = os.dup(2)
    except OSError:  # a process without stderr has nothing to keep quiet
        yield
        return
    try:
        with open(os.devnull, "wb") as nowhere:  # noqa: PTH123 - devnull is no path on every system
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _read(path: Path, most_px: int) -> Picture:
    findings: list[Finding] = []
    with path.open("rb") as file:
        tiff = deep.is_tiff(file.read(4))
        picture = deep.read_deep_tiff(path, findings) if tiff else None
        if picture is not None:
            return _in_fewer(picture, most_px)
        file.seek(0)
        with _quiet_stderr() if tiff else nullcontext(), Image.open(file, formats=FORMATS) as image:
            return _decoded(image, path, findings, most_px)


def _decoded(image: Image.Image, path: Path, findings: list[Finding], most_px: int) -> Picture:
    """Return the first frame of an open picture, upright."""
    check_pixels(*image.size, path.name)
    dpi = _dpi(image)
    _note_frames(image, findings)
    # the TIFF decoder turns the picture and forgets the tag; a PNG may hold it after the pixels
    tiff = image.format == "TIFF"
    orientation = _orientation(image) if tiff else 0
    rgb, alpha = _pixels(image, path, findings, most_px)
    orientation = orientation or _orientation(image)
    if orientation != 1:
        findings.append(Finding("rotated", "info", f"turned upright as the file says (orientation {orientation})"))
    sideways, full = orientation in _SIDEWAYS, image.size
    if not tiff:
        rgb, alpha = turn(rgb, orientation), turn(alpha, orientation)
        full = full[::-1] if sideways else full
    picture = Picture(rgb, alpha, dpi[::-1] if dpi and sideways else dpi, findings)
    return _in_fewer(picture, most_px) if alpha.shape == full[::-1] else replace(picture, full_px=full)


def _note_frames(image: Image.Image, findings: list[Finding]) -> None:
    frames = int(getattr(image, "n_frames", 1))
    if frames > 1 and image.format != "MPO":
        kind = "pages" if image.format == "TIFF" else "frames"
        findings.append(Finding(f"first-{kind[:-1]}", "info", f"{frames} {kind} in the file; the first is used"))


def _in_fewer(picture: Picture, most_px: int) -> Picture:
    """Return a picture of at most ``most_px`` pixels."""
    height, width = picture.alpha.shape
    if width * height <= most_px:
        return picture
    small = np.asarray(reduced(Image.fromarray(np.dstack([picture.rgb, picture.alpha])), "RGBA", most_px))
    return replace(picture, rgb=small[..., :3].copy(), alpha=small[..., 3].copy(), full_px=(width, height))


def _pixels(image: Image.Image, path: Path, findings: list[Finding], most_px: int) -> tuple[U8, U8]:
    """Decode to sRGB and alpha."""
    if image.format == "PNG" and deep.png_is_deep(image):
        values, transparent = deep.png_values(image)
        findings.append(deep.bits_finding())
        colour = deep.png_colour(values)
        alpha = deep.png_alpha(values, transparent)
    else:
        colour, alpha = _colour_and_alpha(image, path, findings, most_px)
    _note_gamma(image, findings)
    return profiles.to_srgb(colour, image.info.get("icc_profile"), path.name, findings), alpha


def _colour_and_alpha(image: Image.Image, path: Path, findings: list[Finding], most_px: int) -> tuple[Image.Image, U8]:
    """Decode an 8-bit picture to L, RGB, RGBA, LAB or CMYK, and alpha.

    L, RGB and CMYK come in at most ``most_px`` pixels.
    """
    if image.mode in {"I", "F"}:
        raise ArtworkError("holds 32-bit values", where=path.name, hint="save it with 8 or 16 bits per channel")
    image.load()
    if image.mode.startswith("I;16"):
        findings.append(deep.bits_finding())
        return _from_16_bits(image)
    _note_expanded(image, findings)
    if image.mode == "LAB":
        return image.copy(), _opaque(image)
    if image.mode == "CMYK":
        small = reduced(profiles.upright_cmyk(image), "CMYK", most_px)
    elif image.mode in _WITH_ALPHA or "transparency" in image.info:
        small = reduced(image, "RGBA", most_px)
        return small, profiles.alpha_of(small)
    else:
        small = reduced(image, "L" if image.mode in {"1", "L"} else "RGB", most_px)
    return small, _opaque(small)


def _from_16_bits(image: Image.Image) -> tuple[Image.Image, U8]:
    values = np.asarray(image)
    clear = image.info.get("transparency")
    alpha = np.where(values == clear, 0, 255) if isinstance(clear, int) else np.full(values.shape, 255)
    return Image.fromarray(deep.to_8_bit(values)), alpha.astype(np.uint8)


def _note_expanded(image: Image.Image, findings: list[Finding]) -> None:
    if image.format == "TIFF" and image.mode in {"RGB", "RGBX"} and deep.has_unnamed_channel(image):
        findings.append(deep.extra_channel_finding())
    if image.mode in {"P", "PA"}:
        findings.append(Finding("palette-expanded", "info", "the colour table was expanded to full colour"))


def _opaque(image: Image.Image) -> U8:
    return np.full((image.height, image.width), 255, np.uint8)


def _note_gamma(image: Image.Image, findings: list[Finding]) -> None:
    """Tell of a PNG gamma, not sRGB's and without a profile, that is not applied (ISO/IEC 15948, 11.3.2)."""
    gamma = image.info.get("gamma")
    if gamma and "icc_profile" not in image.info and "srgb" not in image.info and abs(gamma - 1 / 2.2) > 0.02:
        findings.append(
            Finding(
                "gamma-ignored",
                "warn",
                f"the file asks for gamma {gamma:.3f}, which is read as sRGB",
                "save it as sRGB, or with its profile",
            )
        )


def _orientation(image: Image.Image) -> int:
    try:
        value = int(image.getexif().get(_ORIENTATION, 1))
    except Exception:  # broken metadata must not stop good pixels
        return 1
    return value if 1 <= value <= 8 else 1


def _dpi(image: Image.Image) -> tuple[float, float] | None:
    """Return the file's own (across, down) dpi, or None."""
    try:
        across, down = (float(value) for value in image.info["dpi"][:2])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    return (across, down) if 1.0 <= across < 1e5 and 1.0 <= down < 1e5 else None
