"""Artwork with known plates for the separation tests: shapes drawn at 8x and box-filtered, so coverage is exact."""

from __future__ import annotations

import io

import numpy as np

from sepkit.colorimetry.srgb import linear_to_srgb, srgb_to_linear
from sepkit.model import Artwork

SCALE = 8
INKS = ((200, 40, 45), (250, 215, 60), (25, 70, 150))


def lantern(height=180, width=240):
    """Return (3, h, w) float coverage: a red lantern, a yellow moon overlapping nothing, blue waves below."""
    y, x = np.mgrid[: height * SCALE, : width * SCALE].astype(np.float32) / SCALE
    red = ((x - 80) / 48) ** 2 + ((y - 70) / 40) ** 2 < 1
    yellow = ((x - 185) ** 2 + (y - 55) ** 2 < 30**2) & ~((x - 197) ** 2 + (y - 47) ** 2 < 24**2)
    blue = (y > 138 + 9 * np.sin(x / 17)) & (y < 168)
    masks = np.stack([red, yellow, blue]).astype(np.float32)
    return masks.reshape(3, height, SCALE, width, SCALE).mean(axis=(2, 4))


def picture(cover, inks=INKS, *, space="encoded", ground=None):
    """Return (h, w, 4) uint8 art of known plates, on transparency or over ``ground``."""
    to, back = (srgb_to_linear, linear_to_srgb) if space == "linear" else (np.asarray, np.asarray)
    colours = to(np.array(inks) / 255)
    paint = np.einsum("khw,kc->hwc", cover, colours)
    alpha = np.clip(cover.sum(0), 0, 1)
    if ground is None:
        rgb = back(np.clip(paint / np.maximum(alpha, 1e-6)[..., None], 0, 1))
    else:
        rgb, alpha = back(paint + (1 - alpha)[..., None] * to(np.array(ground) / 255)), np.ones_like(alpha)
    return np.rint(np.dstack([np.clip(rgb, 0, 1), alpha]) * 255).astype(np.uint8)


def artwork(rgba, *, dpi=300.0):
    """Return Artwork of (h, w, 4) or (h, w, 3) uint8 at so many dpi."""
    rgba = np.asarray(rgba, np.uint8)
    alpha = rgba[..., 3].copy() if rgba.shape[2] == 4 else np.full(rgba.shape[:2], 255, np.uint8)
    height, width = alpha.shape
    return Artwork(rgba[..., :3].copy(), alpha, width / dpi * 25.4, height / dpi * 25.4, "lantern.png")


def jpeg(rgb, *, quality=85):
    """Return (h, w, 3) uint8 after a 4:2:0 JPEG."""
    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(rgb).save(data, "JPEG", quality=quality, subsampling=2)
    with Image.open(data) as image:
        return np.asarray(image.convert("RGB"))


def plate_of(separation, rgb, *, levels=6):
    """Return the area whose colour is ``rgb`` within a few levels."""
    for area in separation.areas:
        if np.abs(np.array(area.srgb) - np.array(rgb)).max() <= levels:
            return area
    raise AssertionError(f"no ink near {rgb} in {[a.srgb for a in separation.areas]}")
