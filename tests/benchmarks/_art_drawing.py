"""A sheet to draw invented flat art on, with each pixel's true coverage; shapes, lettering and palettes from a seed.

Shapes are drawn several times larger and averaged down. The sheet keeps two pictures: what covers what (the truth),
and what a renderer paints that lays antialiased shapes over one another, where a fill shows through the edge of what
lies on it. Fonts are Lato, Caladea and Amatic SC, which the test extra installs (SIL OFL 1.1, Apache-2.0, SIL OFL 1.1).
"""

from __future__ import annotations

import functools
import importlib.util
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_srgb, srgb8_to_lab, srgb_to_linear
from tests.benchmarks._fresh_art import far_apart

WHITE, BLACK = (255, 255, 255), (0, 0, 0)
WORDS = ("ROWING", "Lantern", "No 7", "est.", "Regatta", "OAR", "& Co", "west", "harbour", "Kraken", "1964", "sound")
FONTS = {"font_lato": ("Black", "Bold", "Regular"), "font_caladea": ("Bold", "Italic"), "font_amatic_sc": ("Bold",)}
CLEAR_LEVELS = 40  # no colour of a plain palette lies nearer to the mixing line of two others


@functools.cache
def fonts():
    """Return the paths of the fonts."""
    found = []
    for package, styles in FONTS.items():
        spec = importlib.util.find_spec(package)
        if spec is None or spec.origin is None:
            raise SystemExit(f'the art benchmark letters with {package}: pip install -e ".[test]"')
        files = Path(spec.origin).parent / "files"
        found += [str(path) for style in styles for path in sorted(files.glob(f"*-{style}.ttf"))]
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Truth:
    """What was drawn: (h, w) labels ``scale`` times finer than the picture, 0 bare and n + 1 for ink n of (k, 3)."""

    label: np.ndarray
    colours: np.ndarray
    scale: int
    dpi: float
    ground: tuple[int, int, int]
    source_px: float = 1.0
    """Pixels of the picture per pixel of the one it was made from."""
    tone: np.ndarray | None = None
    """(h, w) bool of the picture: where tones were drawn; they are no part of the labels."""
    tone_inks: int = 0
    """So many inks of their own tones may take, or be made of the others."""

    def cover(self, ink):
        """Return the (h, w) coverage of one ink in the picture's pixels, 0 to 1."""
        return reduced(self.label == ink + 1, self.scale)


def reduced(mask, scale):
    """Return a mask averaged down."""
    h, w = mask.shape[0] // scale, mask.shape[1] // scale
    return mask.reshape(h, scale, w, scale).mean(axis=(1, 3), dtype=np.float32)


class Sheet:
    """Draws shapes of ink n over what is there."""

    def __init__(self, side_px, colours, scale):
        self.side_px, self.scale = side_px, scale
        self.colours = np.asarray(colours, np.uint8).reshape(-1, 3)
        self.label = np.zeros((side_px * scale, side_px * scale), np.uint8)
        self.paint = np.zeros((side_px, side_px, 3), np.float32)
        self.alpha = np.zeros((side_px, side_px), np.float32)

    def add(self, ink, box, draw):
        """Draw with ``draw(pen, at)`` inside box (left, top, right, bottom); ``at`` turns pixels to the pen's."""
        from PIL import Image, ImageDraw

        left, top = (max(0, math.floor(v)) for v in box[:2])
        right, low = (min(self.side_px, math.ceil(v)) for v in box[2:])
        if right <= left or low <= top:
            return
        s = self.scale
        image = Image.new("L", ((right - left) * s, (low - top) * s))
        draw(ImageDraw.Draw(image), lambda x, y: ((x - left) * s, (y - top) * s))
        mask = np.asarray(image) > 127
        self.label[top * s : low * s, left * s : right * s][mask] = ink + 1
        cover = reduced(mask, s)
        paint, alpha = self.paint[top:low, left:right], self.alpha[top:low, left:right]
        paint += cover[..., None] * (self.colours[ink] / 255 - paint)
        alpha += cover * (1 - alpha)

    def polygon(self, ink, points):
        points = np.asarray(points)
        box = (*points.min(0) - 1, *points.max(0) + 1)
        self.add(ink, box, lambda pen, at: pen.polygon([at(x, y) for x, y in points], fill=255))

    def disc(self, ink, x, y, rx, ry=None):
        ry = rx if ry is None else ry
        box = (x - rx - 1, y - ry - 1, x + rx + 1, y + ry + 1)
        self.add(ink, box, lambda pen, at: pen.ellipse((*at(x - rx, y - ry), *at(x + rx, y + ry)), fill=255))

    def line(self, ink, points, width):
        """Draw a line through (n, 2) points with round joints and ends."""
        points = np.asarray(points)
        box = (*points.min(0) - width, *points.max(0) + width)

        def draw(pen, at):
            half = width * self.scale / 2
            pen.line([at(x, y) for x, y in points], fill=255, width=max(1, round(2 * half)), joint="curve")
            for x, y in (at(*points[0]), at(*points[-1])):
                pen.ellipse((x - half, y - half, x + half, y + half), fill=255)

        self.add(ink, box, draw)

    def letters(self, ink, x, y, words, size, font, stroke=0.0):
        from PIL import ImageFont

        face = ImageFont.truetype(font, max(1, round(size * self.scale)))
        wide, high = face.getlength(words) / self.scale, 1.6 * size
        edge = round(stroke * self.scale)
        self.add(
            ink,
            (x - stroke - 2, y - stroke - 2, x + wide + stroke + 2, y + high + stroke),
            lambda pen, at: pen.text(at(x, y), words, fill=255, font=face, stroke_width=edge),
        )

    def used(self, least_px=60):
        """Return labels and colours of the inks that show somewhere: as many pixels as ``least_px`` together."""
        amount = np.bincount(self.label.ravel(), minlength=len(self.colours) + 1)[1:] / self.scale**2
        kept = amount > least_px
        table = np.concatenate([[0], np.where(kept, np.cumsum(kept), 0)]).astype(np.uint8)
        return table[self.label], self.colours[kept].astype(int), bool((amount[~kept] > 0).any())


def painted(sheet, truth, how):
    """Return (h, w, 4) uint8: "painted" shape over shape, "exact" encoded coverage, or "linear" light."""
    if how == "painted":
        paint, alpha = sheet.paint, sheet.alpha
        rgb = paint / np.maximum(alpha, 1e-6)[..., None]
    else:
        inks = truth.colours / 255
        inks = srgb_to_linear(inks) if how == "linear" else inks
        cover = np.stack([truth.cover(k) for k in range(len(inks))])
        alpha = cover.sum(0)
        rgb = np.einsum("khw,kc->hwc", cover, inks) / np.maximum(alpha, 1e-6)[..., None]
        rgb = linear_to_srgb(rgb) if how == "linear" else rgb
    return np.rint(np.dstack([np.clip(rgb, 0, 1), np.clip(alpha, 0, 1)]) * 255).astype(np.uint8)


def over(rgba, ground):
    """Return (h, w, 3) uint8 of a picture over a colour."""
    a = rgba[..., 3:].astype(np.float32) / 255
    return np.rint(rgba[..., :3] * a + np.array(ground) * (1 - a)).astype(np.uint8)


def between_levels(colours):
    """Return how near any of (k, 3) colours comes to the segment between two others, in 8-bit levels."""
    c, near = np.asarray(colours, float), 999.0
    for m in range(len(c)):
        for a in range(len(c)):
            for b in range(a):
                if m not in (a, b):
                    d = c[b] - c[a]
                    t = np.clip((c[m] - c[a]) @ d / max(d @ d, 1), 0, 1)
                    near = min(near, float(np.linalg.norm(c[m] - c[a] - t * d)))
    return near


def plain_palette(rng, count, ground):
    """Return (count, 3) colours far apart, none of them near a mix of two others or of one and the ground."""
    best, clear = None, -1.0
    for _ in range(40):
        found = far_apart(rng, count, fixed=(ground,), least=16)
        near = between_levels([ground, *found])
        if near > clear:
            best, clear = found, near
        if clear >= CLEAR_LEVELS:
            break
    return best


def collinear_palette(rng, ground):
    """Return (k, 3) colours of which one is a mix of two others, or of another and the ground."""
    kind = int(rng.integers(4))
    t = rng.uniform(0.3, 0.7)
    if kind == 0:  # pink between red and white, on whatever ground
        ends = far_apart(rng, 1, lightness=(30, 60), chroma=(50, 90))[0], np.array(WHITE)
    elif kind == 1:
        ends = np.array(BLACK), np.array(WHITE)
    elif kind == 2:
        ends = far_apart(rng, 1, fixed=(ground,), least=45)[0], np.array(ground)
    else:
        one = far_apart(rng, 1, fixed=(ground,), least=45)[0]
        others = (far_apart(rng, 1, fixed=(ground, one), least=least) for least in (45, 35, 25, 15))
        ends = one, next(found for found in others if len(found))[0]
    one, other = (np.asarray(e, float) for e in ends)
    middle = np.rint(one + (other - one) * t)
    fixed = [c for c in (one, other) if delta(c, ground) > 8]
    more = far_apart(rng, int(rng.integers(0, 3)), fixed=(ground, one, other, middle), least=16)
    return np.array([*fixed, middle, *more]).astype(np.uint8)


def delta(one, other):
    """Return ΔE00 of two 8-bit colours."""
    return float(delta_e_2000(srgb8_to_lab(np.asarray(one, np.uint8)), srgb8_to_lab(np.asarray(other, np.uint8))))


def curve(rng, x, y, reach):
    """Return (n, 2) points of a smooth open curve about (x, y): a cubic Bézier."""
    p = np.array([x, y]) + rng.uniform(-reach, reach, (4, 2))
    t = np.linspace(0, 1, 40)[:, None]
    return (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]


def blob(rng, x, y, reach, smooth):
    """Return (n, 2) points of a closed outline about (x, y), round or with corners."""
    n = int(rng.integers(5, 9))
    turn = np.sort(rng.uniform(0, 2 * np.pi, n))
    far = reach * rng.uniform(0.5, 1.2, n)
    if smooth:
        fine = np.linspace(0, 2 * np.pi, 160, endpoint=False)
        far = np.fft.irfft(np.fft.rfft(np.interp(fine, turn, far, period=2 * np.pi)) * (np.arange(81) < 7), 160)
        turn = fine
    return np.stack([x + far * np.cos(turn), y + far * np.sin(turn)], 1)


def scatter(sheet, rng, count, finest_px=1.4):
    """Draw ``count`` shapes of all inks by turns: blobs with outlines, discs, rings, bars, curves, lettering."""
    side, inks = sheet.side_px, len(sheet.colours)
    for n in range(count):
        ink, rim = n % inks, int(rng.integers(inks))
        x, y = rng.uniform(0.1, 0.9, 2) * side
        size = rng.uniform(0.04, 0.2) * side
        kind = int(rng.integers(6))
        if kind == 0:
            points = blob(rng, x, y, size, smooth=rng.random() < 0.5)
            sheet.polygon(ink, points)
            if rng.random() < 0.6:
                sheet.line(rim, np.vstack([points, points[:1]]), rng.uniform(finest_px, 6))
        elif kind == 1:
            sheet.disc(rim, x, y, size, size * rng.uniform(0.5, 1))
            sheet.disc(ink, x, y, size * 0.6, size * 0.5)
        elif kind == 2:
            way = rng.normal(size=2)
            way *= size / np.hypot(*way)
            for k in range(int(rng.integers(2, 6))):
                off = np.array((-way[1], way[0])) / size * k * rng.uniform(4, 10)
                middle = np.array((x, y)) + off
                sheet.line(ink, [middle - way, middle + way], rng.uniform(finest_px, 4))
        elif kind == 3:
            sheet.line(ink, curve(rng, x, y, size * 1.5), rng.uniform(finest_px, 7))
        elif kind == 4:
            tall = rng.uniform(0.035, 0.16) * side
            word, font = WORDS[int(rng.integers(len(WORDS)))], fonts()[int(rng.integers(len(fonts())))]
            x = min(x, side * 0.5)
            if rng.random() < 0.3:
                sheet.letters(rim, x, y, word, tall, font, stroke=rng.uniform(1.5, 4))
            sheet.letters(ink, x, y, word, tall, font)
        else:
            sheet.polygon(
                ink, [(x - size, y - size / 3), (x + size, y - size / 2), (x + size, y + size / 3), (x, y + size)]
            )
