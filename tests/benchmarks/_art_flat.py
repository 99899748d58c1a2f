"""Flat art: plain and collinear palettes, thin drawings, small parts, JPEG, web pictures, soft shadows."""

from __future__ import annotations

import io

import numpy as np

from sepkit.model import Artwork
from tests.benchmarks._art import Kind, above, below
from tests.benchmarks._art_drawing import (
    BLACK,
    WHITE,
    Sheet,
    Truth,
    blob,
    collinear_palette,
    curve,
    delta,
    fonts,
    over,
    painted,
    plain_palette,
    scatter,
)
from tests.benchmarks._art_measures import score

GROUNDS = (WHITE, (18, 18, 20), (250, 244, 228), (36, 52, 92))
RENDERED = ("painted", "painted", "exact", "linear")  # by seed; the second over an opaque ground


def artwork(rgba, dpi):
    """Return an Artwork of (h, w, 3) or (h, w, 4) pixels."""
    alpha = rgba[..., 3].copy() if rgba.shape[2] == 4 else np.full(rgba.shape[:2], 255, np.uint8)
    height, width = alpha.shape
    return Artwork(rgba[..., :3].copy(), alpha, width / dpi * 25.4, height / dpi * 25.4, "drawn")


def compressed(rgb, quality):
    """Return a picture after a 4:2:0 JPEG."""
    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(rgb).save(data, "JPEG", quality=quality, subsampling=2)
    return np.asarray(Image.open(data).convert("RGB"))


def truth_of(sheet, dpi, ground, **more):
    """Return the truth of a sheet whose inks all show."""
    label, colours, _ = sheet.used()
    return Truth(label, colours, sheet.scale, dpi, tuple(int(v) for v in ground), **more)


def rendered(seed, sheet, truth):
    """Return the clean picture, as one of several renderers paints it."""
    rgba = painted(sheet, truth, RENDERED[seed % 4])
    return artwork(over(rgba, truth.ground) if seed % 4 == 1 else rgba, truth.dpi)


def flat(seed):
    """Draw shapes and lettering in a palette without mixing lines."""
    rng = np.random.default_rng([seed, 1301])
    ground = GROUNDS[int(rng.integers(len(GROUNDS)))]
    sheet = Sheet(480, plain_palette(rng, int(rng.integers(2, 7)), ground), 8)
    scatter(sheet, rng, 20)
    truth = truth_of(sheet, 300.0, ground)
    return rendered(seed, sheet, truth), truth


def collinear(seed):
    """Draw the same in a palette of which one ink lies on the mixing line of two others; every third a thin drawing."""
    rng = np.random.default_rng([seed, 1302])
    ground = GROUNDS[int(rng.integers(len(GROUNDS)))]
    if seed % 3 == 2:
        return thin(seed, rng, GROUNDS[int(rng.integers(2))])
    sheet = Sheet(480, collinear_palette(rng, ground), 8)
    scatter(sheet, rng, 20)
    truth = truth_of(sheet, 300.0, ground)
    return rendered(seed // 3, sheet, truth), truth


def thin(seed, rng, ground):
    """Draw in thin black lines on white shapes, with a little grey, as many icons and comic drawings are."""
    grey = int(rng.integers(90, 190))
    colours = [c for c in (BLACK, WHITE, (grey,) * 3) if delta(c, ground) > 8]
    sheet = Sheet(480, colours, 8)
    at = {tuple(c): n for n, c in enumerate(colours)}
    white, grey_ink = at.get(WHITE), at[(grey,) * 3]
    black = at.get(BLACK, grey_ink if white is None else white)
    for n in range(10):
        x, y = rng.uniform(0.15, 0.85, 2) * 480
        points = blob(rng, x, y, rng.uniform(30, 110), smooth=n % 2 == 0)
        if white is not None:
            sheet.polygon(white, points)
        if n % 4 == 0:
            sheet.polygon(grey_ink, blob(rng, x, y, rng.uniform(8, 25), smooth=True))
        sheet.line(black, np.vstack([points, points[:1]]), rng.uniform(1.2, 3.5))
        for _ in range(6):
            sheet.line(black, curve(rng, x, y, 60), rng.uniform(0.9, 2.5))
    sheet.letters(black, 60, rng.uniform(40, 400), "Lantern & Oar", rng.uniform(14, 40), fonts()[seed % len(fonts())])
    truth = truth_of(sheet, 300.0, ground)
    return rendered(seed // 3, sheet, truth), truth


def parts_sheet(rng, side_px, ground):
    """Draw many small parts: dots, leaves, letters, short strokes, on a few large shapes."""
    sheet = Sheet(side_px, plain_palette(rng, int(rng.integers(3, 7)), ground), 8)
    inks = len(sheet.colours)
    for n in range(4):
        x, y = rng.uniform(0.2, 0.8, 2) * side_px
        sheet.polygon(n % inks, blob(rng, x, y, 0.25 * side_px, smooth=True))
    for n in range(260):
        x, y = rng.uniform(0.04, 0.96, 2) * side_px
        ink, size = n % inks, rng.uniform(1.8, 7)
        if n % 4 == 0:
            sheet.disc(ink, x, y, size, size * rng.uniform(0.6, 1))
        elif n % 4 == 1:
            sheet.polygon(ink, blob(rng, x, y, size * 1.3, smooth=False))
        elif n % 4 == 2:
            sheet.line(ink, curve(rng, x, y, 3 * size), rng.uniform(1.8, 3.5))
        else:
            sheet.letters(ink, x, y, "aRk7&e"[n % 6], 3 * size + 5, fonts()[n % len(fonts())])
    return sheet


def parts(seed):
    """Draw many small parts, clean."""
    rng = np.random.default_rng([seed, 1303])
    ground = GROUNDS[int(rng.integers(len(GROUNDS)))]
    sheet = parts_sheet(rng, 480, ground)
    truth = truth_of(sheet, 250.0, ground)
    return rendered(seed, sheet, truth), truth


def jpeg(seed):
    """Draw 1000 px and more and save it as JPEG of quality 85; every third has many small parts."""
    rng = np.random.default_rng([seed, 1304])
    ground = GROUNDS[int(rng.integers(len(GROUNDS)))]
    side = int(rng.integers(1000, 1200))
    if seed % 3 == 0:
        sheet = parts_sheet(rng, side, ground)
    else:
        sheet = Sheet(side, plain_palette(rng, int(rng.integers(2, 7)), ground), 4)
        scatter(sheet, rng, 26, finest_px=2)
    truth = truth_of(sheet, float(rng.integers(200, 300)), ground)
    return artwork(compressed(over(painted(sheet, truth, "painted"), ground), 85), truth.dpi), truth


def web(seed):
    """Draw a picture of 300 to 900 px as the web holds it, JPEG of quality 50 to 85; every third was enlarged since."""
    from PIL import Image

    rng = np.random.default_rng([seed, 1305])
    ground = GROUNDS[int(rng.integers(len(GROUNDS)))]
    side = int(rng.integers(300, 900)) // 2 * 2
    sheet = Sheet(side, plain_palette(rng, int(rng.integers(2, 6)), ground), 8 if side < 600 else 6)
    scatter(sheet, rng, 16, finest_px=2)
    factor = 2 if seed % 3 == 2 else 1
    label, colours, _ = sheet.used()
    truth = truth_of(sheet, side / 250 * 25.4, ground)
    rgb = compressed(over(painted(sheet, truth, "painted"), ground), int(rng.integers(50, 86)))
    if factor > 1:
        rgb = np.asarray(Image.fromarray(rgb).resize((side * factor,) * 2, Image.Resampling.BICUBIC))
        dpi = truth.dpi * factor
        truth = Truth(label, colours, sheet.scale // factor, dpi, truth.ground, source_px=float(factor))
    return artwork(rgb, truth.dpi), truth


def shadow(seed):
    """Draw lettering and shapes that cast a soft black shadow on transparency."""
    from scipy import ndimage

    rng = np.random.default_rng([seed, 1306])
    ground = GROUNDS[(0, 2)[int(rng.integers(2))]]
    palette = plain_palette(rng, int(rng.integers(1, 5)), ground)
    if seed % 4 == 0:
        palette = np.array([WHITE])
        ground = GROUNDS[3]
    sheet = Sheet(480, palette, 8)
    scatter(sheet, rng, 8)
    truth = truth_of(sheet, 200.0, ground)
    rgba = painted(sheet, truth, "painted").astype(np.float32) / 255
    solid = rgba[..., 3]
    off = tuple(int(v) for v in rng.integers(4, 12, 2))
    cast = ndimage.gaussian_filter(ndimage.shift(solid, off, order=1), rng.uniform(3, 8)) * rng.uniform(0.3, 0.7)
    both = solid + (1 - solid) * cast
    rgb = rgba[..., :3] * (solid / np.maximum(both, 1e-6))[..., None]
    art = artwork(np.rint(np.dstack([rgb, both]) * 255).astype(np.uint8), truth.dpi)
    tone = ndimage.binary_dilation((1 - solid) * cast > 0.2 / 255, iterations=2)
    dark = any(delta(c, BLACK) < 3 for c in truth.colours)
    return art, Truth(truth.label, truth.colours, 8, 200.0, ground, tone=tone, tone_inks=int(not dark))


CLEAN = {"count ok": above(98), "fringe": below(0.05), "worst": below(0.5), "ringing": below(0), "toned": below(0)}
NONE = {"refused": below(0), "ringing": below(0)}
KINDS = (
    Kind("flat", flat, score, {**CLEAN, **NONE, "specks": below(1), "lost": below(0)}),
    Kind("collinear", collinear, score, {**CLEAN, **NONE}),
    Kind("parts", parts, score, {**CLEAN, **NONE, "specks": below(1), "lost": below(0)}),
    Kind(
        "jpeg", jpeg, score, {**NONE, "count ok": above(95), "fringe": below(0.3), "specks": below(5), "lost": below(2)}
    ),
    Kind("web", web, score, {**NONE, "count ok": above(88), "edge ok": above(90), "toned": below(0)}),
    Kind("shadow", shadow, score, {**NONE, "count ok": above(98), "toned": below(0)}),
)
