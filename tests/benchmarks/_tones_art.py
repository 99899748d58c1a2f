"""Tonal art for the tones benchmark: free pictures that scikit-image ships; gradients, watercolours, a portrait drawn.

In: a size in pixels, the longer side. Out: (h, w, 3) uint8 sRGB. All drawn is invented and follows from a seed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8, KindRule

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True)
class ToneArt:
    """A picture of the benchmark."""

    name: str
    licence: str
    """Of the picture, as scikit-image's data README tells it; "drawn" for what is drawn here."""
    draw: Callable[[int], U8]
    smooth: bool = False
    """Whether it is smooth under its noise, so that grain of plates can be measured."""
    kind: KindRule = "auto"
    """What it is taken for: smooth shading before an even ground passes for a drawing on paper else."""


def _ours(name: str) -> Callable[[int], U8]:
    def crop(px: int) -> U8:
        from PIL import Image
        from skimage import data

        rgb = np.asarray(getattr(data, name)())
        rgb = np.stack([rgb] * 3, axis=-1) if rgb.ndim == 2 else rgb[..., :3]
        side = min(rgb.shape[:2])
        top, left = (rgb.shape[0] - side) // 2, (rgb.shape[1] - side) // 2
        square = Image.fromarray(rgb[top : top + side, left : left + side])
        return np.asarray(square.resize((px, px), Image.Resampling.LANCZOS))

    return crop


def _grid(width: int, height: int) -> tuple[Array, Array]:
    y, x = np.mgrid[:height, :width]
    return x / max(width - 1, 1), y / max(height - 1, 1)


def _encoded(linear: Array) -> U8:
    from sepkit.colorimetry.srgb import linear_to_srgb

    return np.asarray(np.rint(np.clip(linear_to_srgb(linear), 0, 1) * 255), np.uint8)


def _ramp(t: Array, stops: list[tuple[float, str]]) -> Array:
    at = [s for s, _ in stops]
    rgb = np.array([[int(h[i : i + 2], 16) for i in (1, 3, 5)] for _, h in stops], float)
    return np.stack([np.interp(t, at, rgb[:, c]) for c in range(3)], axis=-1)


def _clouds(shape: tuple[int, int], seed: int, scale: float) -> Array:
    from scipy.ndimage import gaussian_filter

    rng = np.random.default_rng(seed)
    field = sum(gaussian_filter(rng.standard_normal(shape), scale / 2**k, mode="wrap") * scale / 4**k for k in range(3))
    field = field - field.min()
    return np.asarray(field / field.max())


def sunset(px: int, *, jpeg: bool = True) -> U8:
    """Return a sun over the sea before dark hills, blue sky above, as a JPEG would have it."""
    width, height = px, round(px * 0.8)
    x, y = _grid(width, height)
    rgb = _ramp(
        y + 0.05 * (_clouds((height, width), 3, px / 14) - 0.5),
        [(0, "#27437f"), (0.25, "#6f6aa8"), (0.42, "#e08a78"), (0.52, "#f7b25a"), (0.6, "#fbd98a"), (0.62, "#c86f4e"),
         (1, "#3b2344")],
    )  # fmt: skip
    away = np.hypot((x - 0.56) * width / height, y - 0.47)
    glow = np.exp(-((away / 0.16) ** 2))[..., None]
    rgb = rgb * (1 - 0.8 * glow) + np.array([255, 236, 190]) * 0.8 * glow
    sun = np.clip((0.085 - away) * height / 2 + 0.5, 0, 1)[..., None]
    rgb = rgb * (1 - sun) + np.array([255, 243, 214]) * sun
    for k, (base, rough, colour) in enumerate([(0.66, 0.16, (52, 32, 64)), (0.8, 0.22, (22, 14, 30))]):
        line = base - rough * (_clouds((8, width), 11 + k, px / 10)[4] - 0.5) - 0.1 * (x[0] - 0.5) * (1 - 2 * k)
        hill = np.clip((y - line) * height / 1.5 + 0.5, 0, 1)[..., None]
        rgb = rgb * (1 - hill) + np.array(colour) * hill
    out = np.clip(rgb + np.random.default_rng(5).normal(0, 1.2, rgb.shape), 0, 255).astype(np.uint8)
    return as_jpeg(out, 82) if jpeg else out


def as_jpeg(rgb: U8, quality: int) -> U8:
    """Return a picture as it comes out of a JPEG."""
    from io import BytesIO

    from PIL import Image

    held = BytesIO()
    Image.fromarray(rgb).save(held, "JPEG", quality=quality)
    return np.asarray(Image.open(held).convert("RGB"))


def _washes(px: int, seed: int, hues: list[str], paper: str = "#fbfaf6") -> U8:
    """Return washes of watercolour that overlap: each lets through its colour, with darker rims and grain."""
    from sepkit.colorimetry.srgb import srgb_to_linear

    rng = np.random.default_rng(seed)
    width, height = px, px
    x, y = _grid(width, height)
    light = np.ones((height, width, 3)) * srgb_to_linear(np.array([int(paper[i : i + 2], 16) for i in (1, 3, 5)]) / 255)
    grain = _clouds((height, width), seed + 1, px / 90)
    for k, hue in enumerate(hues):
        through = srgb_to_linear(np.array([int(hue[i : i + 2], 16) for i in (1, 3, 5)]) / 255)
        angle = 2 * np.pi * k / len(hues) + rng.uniform(-0.3, 0.3)
        cx, cy, r = 0.5 + 0.24 * np.cos(angle), 0.5 + 0.24 * np.sin(angle), rng.uniform(0.17, 0.24)
        wobble = 0.10 * (_clouds((height, width), seed + 7 + k, px / 9) - 0.5)
        inside = r - np.hypot(x - cx, y - cy) + wobble
        body = np.clip(inside * px / 5, 0, 1)
        pool = 0.35 + 0.45 * _clouds((height, width), seed + 31 + k, px / 7) + 0.3 * np.exp(-((inside / 0.012) ** 2))
        amount = (body * pool * (0.85 + 0.3 * grain))[..., None]
        light = light * np.maximum(through, 0.004) ** amount
    return _encoded(light)


def watercolour(px: int) -> U8:
    """Return six hues that meet in a ring."""
    return _washes(px, 2, ["#e8b400", "#e0611c", "#c4185a", "#6b2f94", "#1e5fae", "#1d8a4c"])


def meadow(px: int) -> U8:
    """Return a softer watercolour of greens, blue and rose."""
    return _washes(px, 9, ["#8fb23a", "#3f8f6a", "#2f7fb8", "#d77a92", "#e3c04a"])


def portrait(px: int) -> U8:
    """Return a head in black and white, lit from one side: ellipsoids shaded by their normals, hair, grain."""
    x, y = _grid(px, px)
    tone = 0.16 + 0.10 * y
    light = np.array([-0.5, -0.45, 0.74])
    for cx, cy, rx, ry, bright in [(0.5, 1.12, 0.44, 0.42, 0.35), (0.5, 0.74, 0.12, 0.2, 0.6),
                                   (0.5, 0.45, 0.21, 0.28, 0.85), (0.485, 0.5, 0.03, 0.07, 0.8)]:  # fmt: skip
        u, v = (x - cx) / rx, (y - cy) / ry
        inside = 1 - u * u - v * v
        normal = np.sqrt(np.clip(inside, 0, 1))
        lit = np.clip(u * light[0] + v * light[1] + normal * light[2], 0, 1)
        edge = np.clip(inside * px / 8, 0, 1)
        tone = tone * (1 - edge) + (0.03 + bright * lit) * edge
    for cx in (0.42, 0.58):
        tone *= 1 - 0.75 * np.exp(-(((x - cx) / 0.035) ** 2 + ((y - 0.43) / 0.014) ** 2))
    tone *= 1 - 0.55 * np.exp(-(((x - 0.5) / 0.06) ** 2 + ((y - 0.6) / 0.013) ** 2))
    hair = np.clip(
        (0.26 + 0.06 * _clouds((px, px), 4, px / 20) - np.hypot((x - 0.5) / 0.95, (y - 0.35))) * px / 6, 0, 1
    )
    hair *= np.clip((0.34 - y - 0.3 * (x - 0.5) ** 2) * px / 10, 0, 1)
    tone = tone * (1 - hair) + (0.02 + 0.05 * _clouds((px, px), 6, px / 60)) * hair
    tone = np.clip(tone + np.random.default_rng(1).normal(0, 0.006, tone.shape), 0, 1)
    return _encoded(np.stack([tone] * 3, axis=-1))


def dusk(px: int) -> U8:
    """Return a poster: a radial glow from cream over orange and magenta to night blue."""
    x, y = _grid(px, px)
    return np.rint(
        _ramp(np.hypot(x - 0.5, y - 0.62), [(0, "#fff3d0"), (0.2, "#ffb347"), (0.42, "#d6336c"), (0.75, "#2b1b5a")])
    ).astype(np.uint8)


def aurora(px: int) -> U8:
    """Return a poster: green and violet veils over a dark sky."""
    x, y = _grid(px, px)
    veil = np.exp(-(((y - 0.45 - 0.1 * np.sin(6 * x)) / 0.16) ** 2))[..., None]
    second = np.exp(-(((y - 0.3 - 0.08 * np.sin(5 * x + 2)) / 0.12) ** 2))[..., None]
    rgb = np.array([10, 14, 34]) + veil * np.array([40, 210, 130]) + second * np.array([120, 30, 150])
    return np.rint(np.clip(rgb, 0, 255)).astype(np.uint8)


def lagoon(px: int) -> U8:
    """Return a poster of two hues: sand to turquoise to deep blue."""
    x, y = _grid(px, px)
    return np.rint(
        _ramp(0.75 * y + 0.25 * x, [(0, "#f4e3b8"), (0.35, "#6fd0c5"), (0.7, "#1f78a8"), (1, "#12305c")])
    ).astype(np.uint8)


def rose_grey(px: int) -> U8:
    """Return a poster: rose to grey across, light to dark down."""
    x, y = _grid(px, px)
    across = _ramp(x, [(0, "#ff8fa3"), (1, "#b9bcc0")])
    return np.rint(across * (1 - 0.9 * y[..., None])).astype(np.uint8)


def postcard(px: int) -> U8:
    """Return mixed art: a toned picture above flat lettering on a flat band."""
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.fromarray(sunset(px, jpeg=False))
    sheet = Image.new("RGB", (px, px), "#f2e6c8")
    sheet.paste(picture, (0, 0))
    pen = ImageDraw.Draw(sheet)
    pen.rectangle((0, picture.height, px, px), fill="#f2e6c8")
    font = ImageFont.load_default(size=px / 8)
    pen.text((px / 2, picture.height + (px - picture.height) / 2), "NORTH PIER", fill="#b3202c", font=font, anchor="mm")
    return np.asarray(sheet)


PICTURES = (
    ToneArt("astronaut", "public domain (NASA)", _ours("astronaut")),
    ToneArt("cat", "CC0 (Stefan van der Walt)", _ours("chelsea")),
    ToneArt("coffee", "CC0 (Pikolo Espresso Bar, Rachel Michetti)", _ours("coffee")),
    ToneArt("rocket", "CC0 (SpaceX)", _ours("rocket")),
    ToneArt("camera", "CC0 (Lav Varshney)", _ours("camera")),
    ToneArt("dusk", "drawn", dusk, smooth=True),
    ToneArt("aurora", "drawn", aurora, smooth=True),
    ToneArt("lagoon", "drawn", lagoon, smooth=True),
    ToneArt("rose and grey", "drawn", rose_grey, smooth=True),
    ToneArt("watercolour", "drawn", watercolour),
    ToneArt("meadow", "drawn", meadow),
    ToneArt("portrait", "drawn", portrait, kind="tonal"),
    ToneArt("sunset", "drawn", sunset),
    ToneArt("postcard", "drawn", postcard, kind="tonal"),
)
