"""Pictures with more pixels than a print can use, brought down to a number that every later step has memory for.

In: an opened picture, and how many pixels are enough. Out: the picture in fewer pixels. Each new pixel is the mean of
the area it covers, colours weighted by alpha: the coverage of an edge stays what it was (area sampling; Catmull, A
Hidden-Surface Algorithm with Anti-Aliasing, 1978). Made in bands of rows: nothing else of full size exists.
"""

from __future__ import annotations

import math

from PIL import Image

from sepkit.coverage.bands import row_bands

MOST_PX = 40_000_000
"""As many as vector art is rendered in; 430 x 430 mm at 380 dpi."""
_BAND_PX = 8_000_000


def reduced_size(width_px: int, height_px: int, most_px: int) -> tuple[int, int]:
    """Return (width, height) in pixels of a picture of at most ``most_px`` pixels.

    >>> reduced_size(13400, 13400, 40_000_000)
    (6324, 6324)
    >>> reduced_size(300, 200, 40_000_000)
    (300, 200)
    """
    if width_px * height_px <= most_px:
        return width_px, height_px
    scale = math.sqrt(most_px / (width_px * height_px))
    return max(int(width_px * scale), 1), max(int(height_px * scale), 1)


def reduced(image: Image.Image, mode: str, most_px: int) -> Image.Image:
    """Return ``image`` in ``mode`` (L, RGB, RGBA or CMYK) and in at most ``most_px`` pixels."""
    width, height = image.size
    size = reduced_size(width, height, most_px)
    if size == image.size:
        same = image.mode == mode and "transparency" not in image.info
        return image if same else image.convert(mode)
    out = Image.new(mode, size)
    step = height / size[1]
    for band in row_bands(size[1], max(1, int(_BAND_PX / (width * step)))):
        upper, lower = band.start * step, min(band.stop * step, height)
        first, last = int(upper), min(math.ceil(lower), height)
        strip = image.crop((0, first, width, last)).convert(mode)
        strip = strip.resize(
            (size[0], band.stop - band.start), Image.Resampling.BOX, box=(0, upper - first, width, lower - first)
        )
        out.paste(strip, (0, band.start))
    return out
