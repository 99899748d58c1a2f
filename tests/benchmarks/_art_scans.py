"""Scans of print and clean tone art, drawn with a seed and known truth.

A scan: soft shapes and fades in one ink or in four, halftoned at a ruling and angle, printed on paper with grain, laid
askew, blurred and sampled by a scanner, packed as JPEG. Clean tone art: the same pictures and others with grain, weave,
stripes, hatching, lettering and checks, that were never halftoned.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.intake.descreen import averaged, ruling_energy
from sepkit.intake.lines import find_screens
from sepkit.model import Artwork
from tests.benchmarks._art import Kind, above, below

INKS = {"k": (28, 26, 30), "c": (0, 140, 200), "m": (200, 30, 110), "y": (250, 220, 0)}
ANGLES = {"k": 45.0, "c": 15.0, "m": 75.0, "y": 0.0}


@dataclass(frozen=True)
class Scan:
    """A picture of 8-bit sRGB, and how it was printed; ``flats`` are boxes (y0, y1, x0, x1) of one tint."""

    rgb: np.ndarray
    dpi: float
    lpi: float
    angle_deg: float
    inks: str
    flats: tuple[tuple[int, int, int, int], ...]


def tones(rng, height, width):
    """Return a tint 0..1 (h, w): blobs and a fade, with three flat steps below; and the boxes of the steps."""
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    tone = 0.15 + 0.5 * x / width * rng.random()
    for _ in range(6):
        cy, cx, r = rng.random() * height, rng.random() * width, (0.08 + 0.2 * rng.random()) * min(height, width)
        tone += (rng.random() - 0.4) * np.exp(-((y - cy) ** 2 + (x - cx) ** 2) / (2 * r * r))
    tone = np.clip(tone, 0.02, 0.95)
    top, boxes = int(height * 0.72), []
    for k, level in enumerate(rng.uniform(0.15, 0.8, 3)):
        left, right = int(width * (0.03 + 0.32 * k)), int(width * (0.31 + 0.32 * k))
        tone[top : int(height * 0.96), left:right] = level
        boxes.append((top, int(height * 0.96), left, right))
    return tone, tuple(boxes)


def scan(seed, *, height=700, width=900, quality=None, lines=False):
    """Return a Scan with this seed, of dots, or of lines in one ink."""
    rng = np.random.default_rng(seed)
    dpi = float(rng.choice([300, 400, 600]))
    lpi = float(rng.uniform(max(25, dpi / 14), min(85, dpi / 3.3)))
    inks = "k" if rng.random() < 0.6 or lines else "cmyk"
    askew = float(rng.uniform(-2, 2))
    turn = float(rng.uniform(0, 90)) if inks == "k" else 0.0
    over = 3
    tone, boxes = tones(rng, height, width)
    light = np.ones((height, width, 3), np.float32) * np.array([0.90, 0.88, 0.83], np.float32)
    y, x = np.mgrid[0 : height * over, 0 : width * over].astype(np.float32) / over
    for ink in inks:
        share = tone
        if inks != "k":
            share = np.clip((tone - 0.5) * 1.2 if ink == "k" else tone * rng.uniform(0.3, 1.0), 0, 1)
        angle = np.radians(turn + ANGLES[ink] + askew)
        f = lpi / dpi
        u, v = f * (x * np.cos(angle) - y * np.sin(angle)), f * (x * np.sin(angle) + y * np.cos(angle))
        spot = (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * (u if lines else v))) / 4 + 0.5
        level = np.quantile(spot[: over * 200, : over * 200], np.linspace(0, 1, 257))
        threshold = np.interp(1 - share, np.linspace(0, 1, 257), level).astype(np.float32)
        dots = spot > np.repeat(np.repeat(threshold, over, 0), over, 1)
        covered = dots.reshape(height, over, width, over).mean(axis=(1, 3)).astype(np.float32)
        colour = (np.array(INKS[ink], np.float32) / 255) ** 2.2
        light *= 1 - covered[..., None] * (1 - colour)
    light *= 1 + rng.normal(0, 0.02, light.shape[:2])[..., None]
    light = _blurred(light, float(rng.uniform(0.4, 0.9)))
    rgb = np.clip(255 * np.maximum(light, 0) ** (1 / 2.2) + rng.normal(0, 1.5, light.shape), 0, 255).astype(np.uint8)
    packed = _jpeg(rgb, quality or int(rng.integers(75, 96)))
    return Scan(packed, dpi, lpi, (turn + ANGLES[inks[-1]] + askew) % 90, inks, boxes)


def clean(seed, *, height=600, width=800):
    """Return clean tone art (h, w, 3) with this seed: no printed dots in it."""
    rng = np.random.default_rng(seed)
    tone, _ = tones(rng, height, width)
    rgb = 255 * (1 - tone[..., None] * (1 - np.array([[rng.uniform(0, 0.8, 3)]])))
    y, x = np.mgrid[0:height, 0:width]
    kind = seed % 8
    if kind == 0:
        rgb += rng.normal(0, 12, (height, width, 1))
    elif kind == 1:
        grain = _blurred(rng.normal(0, 60, (height, width, 1)).astype(np.float32), 1.5)
        rgb += grain
    elif kind == 2:  # stripes
        rgb[(x * rng.uniform(0.3, 1) + y * rng.uniform(0.3, 1)) % rng.integers(6, 20) < 3] *= 0.4
    elif kind == 3:  # loose hatching and lettering
        image = Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))
        draw = ImageDraw.Draw(image)
        for _ in range(400):
            a, b = rng.integers(0, width), rng.integers(0, height)
            draw.line((a, b, a + rng.integers(-40, 40), b + 40), fill=(20, 20, 20))
        for k in range(30):
            draw.text((20 + (k % 3) * 250, 15 * k), "Harbour Rowing Club 1927", fill=(10, 10, 60))
        rgb = np.asarray(image).astype(np.float64)
    elif kind == 4:  # wide checks, over 2 mm
        side = int(rng.integers(24, 60))
        rgb[((x // side) + (y // side)) % 2 == 0] *= 0.6
    elif kind == 5:  # an irregular weave
        wobble = np.cumsum(rng.normal(0, 0.4, width))[None, :] + np.cumsum(rng.normal(0, 0.4, height))[:, None]
        rgb += 25 * (np.sin(x / 1.7 + wobble / 3) * np.sin(y / 1.9 + wobble / 2))[..., None]
    elif kind == 6:  # scattered stars
        for _ in range(500):
            a, b = rng.integers(0, height - 3), rng.integers(0, width - 3)
            rgb[a : a + 3, b : b + 3] = 255
    rgb = np.clip(rgb, 0, 255).astype(np.uint8)
    return _jpeg(rgb, int(rng.integers(60, 96))) if rng.random() < 0.7 else rgb


def _blurred(light, sigma):
    from scipy.ndimage import gaussian_filter

    return gaussian_filter(light, (sigma, sigma, 0))


def _jpeg(rgb, quality):
    data = io.BytesIO()
    Image.fromarray(rgb).save(data, "JPEG", quality=quality)
    return np.asarray(Image.open(data))


def _scored(picture, truth):
    """Return whether the dots were told, and how even what they stood for became."""
    screens = find_screens(picture, dpi=truth.dpi)
    if not screens:
        return {"told": 0.0}
    height, width = picture.shape[:2]
    size = (width * 25.4 / truth.dpi, height * 25.4 / truth.dpi)
    after = averaged(Artwork(picture, np.full((height, width), 255, np.uint8), *size, "scan"), screens)
    share = (after.alpha / 255.0)[..., None]
    over = after.rgb * share + 255 * (1 - share)
    step, edge = width / after.rgb.shape[1], int(5 * truth.dpi / truth.lpi)
    uneven, energy = [], []
    for y0, y1, x0, x1 in truth.flats:
        before = picture[y0 + edge : y1 - edge, x0 + edge : x1 - edge, 1]
        top, bottom, left, right = (int(v / step) for v in (y0 + edge, y1 - edge, x0 + edge, x1 - edge))
        flat = over[top:bottom, left:right]
        if min(flat.shape[:2]) < 8:
            continue
        mean = np.broadcast_to(srgb8_to_lab(np.rint(flat.mean(axis=(0, 1))).astype(np.uint8)), flat.shape)
        uneven.append(float(delta_e_2000(srgb8_to_lab(np.rint(flat).astype(np.uint8)), mean).mean()))
        energy.append(100 * ruling_energy(flat[..., 1], screens, scale=step) / ruling_energy(before, screens))
    off = [abs((screen.angle_deg - truth.angle_deg + 15) % 30 - 15) for screen in screens]
    right_one = abs(screens[0].lpi / truth.lpi - 1) < 0.03 and min(off) < 2
    return {
        "told": 100.0,
        "ruling ok": 100.0 * right_one,
        "flat dE00": max(uneven, default=float("nan")),
        "ruling left": max(energy, default=float("nan")),
    }


def _scan_drawn(seed, lines=False):
    drawn = scan(seed, lines=lines)
    return drawn.rgb, drawn


SCANNED = {"told": above(100), "ruling ok": above(100), "flat dE00": below(2), "ruling left": below(2)}
KINDS = (
    Kind("scans", _scan_drawn, _scored, SCANNED),
    Kind("line scans", lambda seed: _scan_drawn(seed, lines=True), _scored, SCANNED),
    Kind(
        "no scans",
        lambda seed: (clean(seed), None),
        lambda picture, _: {"told": 100.0 * bool(find_screens(picture, dpi=300))},
        {"told": below(0)},
    ),
)
