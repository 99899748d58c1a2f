"""Art of the job benchmark, drawn anew each time: flat sheets, a badge, a gradient, a scan of dots, a noisy JPEG."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

Array = np.ndarray[Any, np.dtype[Any]]

SHEET_INKS = ((214, 60, 44), (244, 201, 93), (47, 158, 148), (23, 48, 79))
BADGE_INKS = ((246, 240, 226), (28, 52, 84), (206, 52, 44), (240, 178, 60), (52, 128, 116))


@dataclass(frozen=True, slots=True)
class Input:
    """One picture to make a print of: the garment, its width, and how it is drawn into a file."""

    garment: str
    width_mm: float
    suffix: str
    draw: Callable[[Path], None]
    words: str
    command: str = "separate"


def sheet(across: int, down: int, *, blur_px: float = 0.0) -> Callable[[Path], None]:
    """Return what draws overlapping discs, bars and rings of four inks with smooth edges on transparency."""

    def draw(path: Path) -> None:
        rng = np.random.default_rng(5)
        size = across / 4800
        image = Image.new("RGBA", (across * 2, down * 2), (0, 0, 0, 0))
        pen = ImageDraw.Draw(image)
        for k in range(160):
            colour = (*SHEET_INKS[k % 4], 255)
            x, y = (int(rng.integers(0, 2 * side) * size) for side in (4800, 6000))
            r = int(rng.integers(60, 900) * size)
            if k % 3 == 0:
                pen.rectangle((x - r, y - r // 3, x + r, y + r // 3), fill=colour)
            elif k % 3 == 1:
                pen.ellipse((x - r, y - r, x + r, y + r), fill=colour)
            else:
                pen.ellipse((x - r, y - r, x + r, y + r), outline=colour, width=r // 6 + max(2, int(12 * size)))
        small = image.reduce(2)
        if blur_px:
            small = small.convert("RGBa").filter(ImageFilter.GaussianBlur(blur_px)).convert("RGBA")
        small.save(path, compress_level=1)

    return draw


def badge(side: int) -> Callable[[Path], None]:
    """Return what draws a badge of five inks on transparency: rings, a star, waves, dots along the rim."""

    def draw(path: Path) -> None:
        big = side * 2
        image = Image.new("RGBA", (big, big), (0, 0, 0, 0))
        pen = ImageDraw.Draw(image)
        middle = big / 2

        def disc(x: float, y: float, radius: float, ink: int) -> None:
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=(*BADGE_INKS[ink], 255))

        for share, ink in ((0.98, 1), (0.95, 0), (0.90, 1), (0.68, 3), (0.66, 4)):
            disc(middle, middle, share * middle, ink)
        for k in range(36):
            turn = math.radians(10 * k)
            disc(middle + 0.79 * middle * math.cos(turn), middle + 0.79 * middle * math.sin(turn), 0.03 * middle, k % 3)
        star = [
            (middle + r * middle * math.sin(math.radians(36 * k)), middle - r * middle * math.cos(math.radians(36 * k)))
            for k, r in enumerate((0.56, 0.24) * 5)
        ]
        pen.polygon(star, fill=(*BADGE_INKS[0], 255))
        disc(middle, middle, 0.2 * middle, 2)
        for k in range(9):
            y = middle * (1.1 + 0.045 * k)
            points = [
                (x, y + 0.02 * middle * math.sin(x / big * 40 + k)) for x in range(int(0.6 * big), int(0.78 * big), 8)
            ]
            pen.line(points, fill=(*BADGE_INKS[3], 255), width=max(2, round(0.006 * big)))
        image.reduce(2).save(path, compress_level=1)

    return draw


def gradient(across: int, down: int) -> Callable[[Path], None]:
    """Return what draws a poster of gradients: a glowing sky over flat hills."""

    def draw(path: Path) -> None:
        y, x = np.mgrid[0:down, 0:across].astype(np.float32)
        y, x = y / down, x / across
        glow = np.exp(-(((x - 0.5) / 0.35) ** 2 + ((y - 0.4) / 0.25) ** 2))[..., None]
        top, low, sun = (np.array(c, np.float32) for c in ((24, 30, 78), (222, 92, 66), (252, 214, 120)))
        sky = top * (1 - y[..., None]) + low * y[..., None]
        rgb = sky * (1 - glow) + sun * glow
        hills = y > 0.78 + 0.05 * np.sin(9 * x) + 0.02 * np.sin(31 * x)
        rgb[hills] = (18, 40, 44)
        Image.fromarray(np.rint(rgb).astype(np.uint8)).save(path, compress_level=1)

    return draw


def scan(across: int, down: int) -> Callable[[Path], None]:
    """Return what draws a scan of a halftoned print: three inks in dots at their angles, a soft lens, paper grain."""

    def draw(path: Path) -> None:
        rng = np.random.default_rng(7)
        y, x = np.mgrid[0:down, 0:across].astype(np.float32)
        tints = (0.25 + 0.5 * x / across, 0.2 + 0.6 * y / down, np.abs(np.sin(3 * x / across + 2 * y / down)))
        light = np.full((down, across, 3), 246, np.float32)
        for tint, angle, ink in zip(tints, (15, 75, 0), ((30, 120, 170), (200, 50, 90), (240, 210, 60)), strict=True):
            u, v = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
            spot = (np.cos((x * u + y * v) * 2 * np.pi / 6) + np.cos((y * u - x * v) * 2 * np.pi / 6)) / 4 + 0.5
            dots = (spot < tint)[..., None]
            light = np.where(dots, light * np.array(ink, np.float32) / 255, light)
        soft = Image.fromarray(np.rint(light).astype(np.uint8)).filter(ImageFilter.GaussianBlur(0.8))
        noisy = np.asarray(soft, np.float32) + rng.normal(0, 4, (down, across, 1)).astype(np.float32)
        Image.fromarray(np.clip(np.rint(noisy), 0, 255).astype(np.uint8)).save(path, compress_level=1)

    return draw


def jpeg(across: int, down: int) -> Callable[[Path], None]:
    """Return what draws the flat sheet on a pale ground as a grainy JPEG."""

    def draw(path: Path) -> None:
        clean = path.with_suffix(".clean.png")
        sheet(across, down)(clean)
        with Image.open(clean) as art:
            flat = Image.alpha_composite(Image.new("RGBA", art.size, (238, 234, 226, 255)), art).convert("RGB")
        clean.unlink()
        grain = np.random.default_rng(3).normal(0, 3, (down, across, 1))
        Image.fromarray(np.clip(np.rint(np.asarray(flat) + grain), 0, 255).astype(np.uint8)).save(path, quality=70)

    return draw


INPUTS = {
    "clean": Input("#1a1a1c", 406.4, ".png", sheet(4800, 6000), "28.8 Mpx, 4 inks, clean edges, on black"),
    "white": Input("#f4f4f2", 406.4, ".png", sheet(4800, 6000), "the same on white"),
    "check": Input("#1a1a1c", 406.4, ".png", sheet(4800, 6000), "the same, checked only", command="check"),
    "soft": Input("#1a1a1c", 406.4, ".png", sheet(4800, 6000, blur_px=0.5), "28.8 Mpx, edges half a pixel soft"),
    "badge": Input("#1a1a1c", 279.4, ".png", badge(3300), "badge of 3300 x 3300 px, 5 inks"),
    "gradient": Input("#1a1a1c", 300.0, ".png", gradient(1600, 2000), "gradients, 1600 x 2000 px"),
    "scan": Input("#f4f4f2", 170.0, ".png", scan(1600, 2000), "scan of a halftoned print, 1600 x 2000 px"),
    "jpeg": Input("#1a1a1c", 203.2, ".jpg", jpeg(2000, 2500), "grainy JPEG, 2000 x 2500 px"),
    "quarter": Input("#1a1a1c", 203.2, ".png", sheet(2400, 3000), "7.2 Mpx of the clean sheet"),
    "large": Input("#1a1a1c", 812.8, ".png", sheet(9600, 12000), "115 Mpx of the clean sheet"),
}
"""By name; ``quarter``, ``clean`` and ``large`` tell how work grows with pixels."""
