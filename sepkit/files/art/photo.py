"""A photograph or scan from a file: upright by its Exif orientation, in sRGB, at most so many pixels.

In: a path to a JPEG, PNG, TIFF or WebP. Out: (h, w, 3) uint8. A photograph of more pixels than reading gains from is
averaged down by whole steps. HEIC is not read; phones export JPEG.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError
from sepkit.files.art.picture import MAX_PIXELS, turn
from sepkit.files.words import shown

if TYPE_CHECKING:
    from PIL import Image

    from sepkit.model import U8

MOST_PIXELS = 16_000_000
"""More says no more of a print at arm's length, and costs memory."""
LEAST_PX = 200
ORIENTATION_TAG = 0x0112
_EXPORT = "export it as JPEG, not as a messenger's copy"


def read_photo(path: Path) -> U8:
    """Return the pixels of a photograph. Raises PhotoError (exit 10) with one line."""
    from PIL import Image

    where = str(path)
    if not path.is_file():
        raise PhotoError("no such photograph", where=where, hint="check the name and the folder")
    if path.suffix.lower() in (".heic", ".heif"):
        raise PhotoError("HEIC is not read", where=where, hint="set the phone to JPEG, or " + _EXPORT)
    try:
        with Image.open(path) as image:
            if image.width * image.height > MAX_PIXELS:
                raise PhotoError(f"{image.width} x {image.height} pixels are too many", where=where, hint=_EXPORT)
            orientation = int(image.getexif().get(ORIENTATION_TAG, 1) or 1)
            by = int(np.ceil(np.sqrt(image.width * image.height / MOST_PIXELS)))
            picture = _in_srgb(image)
            if by > 1:
                picture = picture.reduce(by)
            pixels = np.asarray(picture, np.uint8)
    except PhotoError:
        raise
    except (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError) as error:
        raise PhotoError(f"cannot be read as a picture: {shown(error)}", where=where, hint=_EXPORT) from error
    if min(pixels.shape[:2]) < LEAST_PX:
        text = f"is {pixels.shape[1]} x {pixels.shape[0]} pixels"
        raise PhotoError(text, where=where, hint="8 pixels for each mm of the print are needed")
    return turn(pixels, orientation)


def _in_srgb(image: Image.Image) -> Image.Image:
    """Return the picture in sRGB by its profile; one whose profile is broken is taken as sRGB."""
    import io

    from PIL import ImageCms

    rgb = image.convert("RGB")
    profile = image.info.get("icc_profile")
    if not profile or image.mode != "RGB":
        return rgb
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        out = ImageCms.profileToProfile(rgb, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError):
        return rgb
    return rgb if out is None else out
