"""Invented flat art for the constants benchmark, unlike that of the separation benchmark: rings, bars, lettering, dots.

A seed draws one picture. Five kinds of palette take turns: far apart; one colour between two others; shades of one
hue; near the ground or near black; greys beside bright colours. Shapes are drawn at eight times the size and averaged
down, so each pixel's true coverage is known. :func:`tonal` draws art that is not flat: ramps, a soft shadow, texture.
"""

from __future__ import annotations

import io

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import lab_to_srgb8, srgb8_to_lab

SCALE = 8
SIDE_PX = 320
LEAST_DE00 = 9.0  # drawn colours and the ground are at least so far apart: nearer ones are one ink to some eyes
WHITE = (255, 255, 255)
WORDS = ("ROWING", "lantern", "No 7", "est.", "Regatta", "OAR", "& Co", "west")


def far_apart(rng, wanted, fixed=(WHITE,), least=LEAST_DE00, lightness=(15, 92), chroma=(0, 90)):
    """Return (k, 3) random 8-bit colours, each at least ``least`` ΔE00 from every other and from ``fixed``."""
    found = [np.array(f, np.uint8) for f in fixed]
    for _ in range(400):
        if len(found) >= wanted + len(fixed):
            break
        hue, strength = rng.uniform(0, 2 * np.pi), rng.uniform(*chroma)
        lab = np.array([rng.uniform(*lightness), strength * np.cos(hue), strength * np.sin(hue)])
        rgb = lab_to_srgb8(lab[None])[0]
        if delta_e_2000(srgb8_to_lab(rgb), lab) > 3:  # outside of sRGB
            continue
        if delta_e_2000(srgb8_to_lab(np.array(found)), srgb8_to_lab(rgb)).min() >= least:
            found.append(rgb)
    return np.array(found[len(fixed) :], np.uint8).reshape(-1, 3)


def palette(seed, rng):
    """Return (k, 3) 8-bit colours of a kind that follows from the seed."""
    kind, count = seed % 5, int(rng.integers(3, 7))
    if kind == 0:
        return far_apart(rng, count, least=18)
    if kind == 1:
        two = far_apart(rng, 2, least=40)
        between = np.rint(two[0] + (two[1].astype(float) - two[0]) * rng.uniform(0.35, 0.65)).astype(np.uint8)
        return np.vstack([two, between, far_apart(rng, count - 2, fixed=(WHITE, *two, between))])
    if kind == 2:
        hue, strength = rng.uniform(0, 2 * np.pi), rng.uniform(20, 45)
        light = np.linspace(rng.uniform(20, 30), rng.uniform(75, 85), count)
        lab = np.stack([light, np.full(count, strength * np.cos(hue)), np.full(count, strength * np.sin(hue))], 1)
        return lab_to_srgb8(lab)
    if kind == 3:
        dark = far_apart(rng, 2, lightness=(3, 22), chroma=(0, 25))
        pale = far_apart(rng, 2, fixed=(WHITE, *dark), lightness=(82, 95), chroma=(5, 30))
        return np.vstack([dark, pale, far_apart(rng, count - 3, fixed=(WHITE, *dark, *pale))])
    greys = np.array([[g, g, g] for g in np.linspace(25, 190, 3).round()], np.uint8)
    return np.vstack([greys, far_apart(rng, count - 2, fixed=(WHITE, *greys), chroma=(45, 90))])


def draw(seed):
    """Return (k, h, w) true coverage and (k, 3) colours of one invented picture."""
    from PIL import Image, ImageDraw, ImageFont

    rng = np.random.default_rng([seed, 77])
    colours = palette(seed, rng)
    big = SIDE_PX * SCALE
    image = Image.new("L", (big, big))
    pen = ImageDraw.Draw(image)
    for n in range(6 + 3 * len(colours)):
        ink = n % len(colours) + 1
        x, y = rng.uniform(0.08, 0.92, 2) * big
        size = rng.uniform(0.03, 0.2) * big
        kind = int(rng.integers(6))
        if kind == 0:  # a ring, thin or thick, filled with another ink or not at all
            fill = int(rng.integers(len(colours) + 1))
            wide = int(rng.uniform(0.8, 8) * SCALE)
            pen.ellipse((x - size, y - size, x + size, y + size), fill=fill or None, outline=ink, width=wide)
        elif kind == 1:
            pen.rounded_rectangle((x - size, y - size / 2, x + size, y + size / 2), size / 4, fill=ink)
        elif kind == 2:
            turn = rng.uniform(0, np.pi)
            for k in range(int(rng.integers(2, 7))):  # bars side by side, some nearly touching
                off = np.array((-np.sin(turn), np.cos(turn))) * k * rng.uniform(2.5, 8) * SCALE
                way = np.array((np.cos(turn), np.sin(turn))) * size
                ends = (*(np.array((x, y)) + off - way), *(np.array((x, y)) + off + way))
                pen.line(ends, fill=ink, width=int(rng.uniform(0.8, 4) * SCALE))
        elif kind == 3:
            font = ImageFont.load_default(rng.uniform(9, 60) * SCALE)
            stroke = int(rng.integers(0, 2) * rng.uniform(0.8, 2.5) * SCALE)
            pen.text(
                (x * 0.7, y),
                WORDS[int(rng.integers(len(WORDS)))],
                fill=ink,
                font=font,
                stroke_width=stroke,
                stroke_fill=ink % len(colours) + 1,
            )
        elif kind == 4:
            for k in range(12):  # a row of dots, down to what a screen cannot hold
                r = (0.6 + 0.35 * k) * SCALE
                pen.ellipse((x + k * 12 * SCALE - r, y - r, x + k * 12 * SCALE + r, y + r), fill=ink)
        else:
            turn = np.sort(rng.uniform(0, 2 * np.pi, 7))
            reach = size * rng.uniform(0.4, 1.3, 7)
            pen.polygon([*zip(x + reach * np.cos(turn), y + reach * np.sin(turn), strict=True)], fill=ink)
    label = np.asarray(image)
    cover = np.stack([label == k + 1 for k in range(len(colours))]).astype(np.float32)
    cover = cover.reshape(len(colours), SIDE_PX, SCALE, SIDE_PX, SCALE).mean(axis=(2, 4))
    seen = cover.sum(axis=(1, 2)) > 60
    return cover[seen], colours[seen].astype(int)


def compressed(flat, quality):
    """Return (h, w, 3) uint8 after a 4:2:0 JPEG."""
    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(flat).save(data, "JPEG", quality=quality, subsampling=2)
    return np.asarray(Image.open(data).convert("RGB"))


def enlarged(rgb, factor, quality=None):
    """Return a (h, w, 3) picture shrunk by ``factor``, compressed there when ``quality`` is given, and enlarged."""
    from PIL import Image

    size = rgb.shape[1], rgb.shape[0]
    small = np.asarray(Image.fromarray(rgb).resize((size[0] // factor, size[1] // factor), Image.Resampling.BOX))
    small = small if quality is None else compressed(small, quality)
    return np.asarray(Image.fromarray(small).resize(size, Image.Resampling.BICUBIC))


def tonal(seed):
    """Return (h, w, 4) uint8 of art with tones: by seed a ramp, a soft shadow, texture beside flat colour, grain."""
    from scipy import ndimage

    rng = np.random.default_rng([seed, 78])
    cover, colours = draw(seed)
    flat = np.rint(np.einsum("khw,kc->hwc", cover, colours) + (1 - cover.sum(0))[..., None] * 255)
    alpha = np.full(flat.shape[:2], 255.0)
    y, x = np.mgrid[:SIDE_PX, :SIDE_PX] / SIDE_PX
    kind = seed % 4
    here = slice(SIDE_PX // 2, None)
    one, other = far_apart(rng, 2, least=20).astype(float)
    if kind == 0:
        t = (np.cos(rng.uniform(0, 2)) * x + np.sin(rng.uniform(0, 2)) * y)[here]
        t = (t - t.min()) / np.ptp(t)
        flat[here] = one + (other - one) * t[..., None]
    elif kind == 1:
        solid = np.clip(cover.sum(0), 0, 1)
        shadow = ndimage.gaussian_filter(np.roll(solid, 9, (0, 1)), rng.uniform(4, 9)) * rng.uniform(0.3, 0.8)
        both = solid + (1 - solid) * shadow  # the art over a black shadow
        flat = np.einsum("khw,kc->hwc", cover, colours) / np.maximum(both, 1e-6)[..., None]
        alpha = 255 * both
    elif kind == 2:
        cloud = ndimage.gaussian_filter(rng.normal(size=flat.shape[:2]), rng.uniform(1, 5))[here]
        cloud = np.clip(0.5 + 0.25 * cloud / cloud.std(), 0, 1)[..., None]
        flat[here] = one + (other - one) * cloud
    else:
        cloud = [ndimage.gaussian_filter(rng.normal(size=flat.shape[:2]), 8) for _ in range(3)]
        flat = 128 + 50 * np.stack(cloud, -1) / np.std(cloud) + rng.normal(0, rng.uniform(1, 6), flat.shape)
    whole = np.dstack([np.clip(np.rint(flat), 0, 255), np.rint(alpha)]).astype(np.uint8)
    quarter = slice(SIDE_PX // 4, -SIDE_PX // 4)
    return whole if kind < 2 else whole[quarter, quarter].copy()
