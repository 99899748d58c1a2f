"""Art of one colour, drawn from seeds: logos with holes, lettering, frames and wear, on a ground or on transparency.

Each is printed in one ink in all four combinations of ink and cloth, and separated without a word: where that prints
anything but the figure, an ink must be proposed; where it prints just the figure, none. A wished ``#rrggbb`` must be
the ink. Truth is the drawn figure.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.model import Artwork
from tests.benchmarks._art import Kind, above, below

SIDE_PX = 420
SCALE = 4
FIGURES = ((0, 0, 0), (255, 255, 255), (20, 20, 24), (22, 40, 92), (150, 24, 36), (244, 238, 222), (230, 190, 40))
GROUNDS = ((255, 255, 255), (0, 0, 0), (250, 246, 236), (24, 24, 28), (28, 50, 110), (205, 170, 120))
WORDS = ("ROWING", "LANTERN", "No 7", "HARBOUR", "Regatta", "OAR & CO")
CLOTHS = ("white tee", "black tee")
SEEN_DE00 = 15.0
SAME_SHARE = 0.9
"""Overlap over union from which two figures are the same print."""


@dataclass(frozen=True, eq=False)
class Logo:
    """Art of one colour and what is figure in it."""

    cover: np.ndarray
    """(h, w) 0..1."""
    figure: tuple[int, int, int]
    ground: tuple[int, int, int] | None


def logo(seed):
    """Return an Artwork of one colour, and its truth."""
    from PIL import Image

    rng = np.random.default_rng([seed, 512])
    cover = _figure(rng)
    figure = FIGURES[int(rng.integers(len(FIGURES)))]
    ground = None
    if seed % 3:
        apart = [g for g in GROUNDS if abs(sum(g) - sum(figure)) > 240]
        ground = apart[int(rng.integers(len(apart)))]
    truth = Logo(cover, figure, ground)
    if ground is None:
        rgb, alpha = np.full((*cover.shape, 3), figure, np.uint8), np.rint(255 * cover).astype(np.uint8)
        return Artwork(rgb, alpha, 200.0, 200.0, "logo.png"), truth
    share = cover[..., None]
    rgb = np.rint(np.array(figure) * share + np.array(ground) * (1 - share)).astype(np.uint8)
    if seed % 3 == 2:
        data = io.BytesIO()
        Image.fromarray(rgb).save(data, "JPEG", quality=int(rng.integers(75, 93)), subsampling=2)
        rgb = np.asarray(Image.open(data).convert("RGB"))
    return Artwork(rgb.copy(), np.full(cover.shape, 255, np.uint8), 200.0, 200.0, "logo.png"), truth


def _figure(rng):
    """Return (h, w) 0..1: a mark with holes, lettering, sometimes a frame along the border, sometimes worn."""
    from PIL import Image, ImageDraw, ImageFont

    big = SIDE_PX * SCALE
    image = Image.new("L", (big, big), 0)
    draw = ImageDraw.Draw(image)
    middle = big * rng.uniform(0.42, 0.58, 2)
    reach = big * rng.uniform(0.16, 0.36)
    kind = int(rng.integers(3))
    if kind == 0:  # a disc with its mark cut out
        draw.ellipse((*(middle - reach), *(middle + reach)), fill=255)
        turn = np.linspace(0, 2 * np.pi, 11)[:-1] + rng.uniform(0, 1)
        far = reach * np.where(np.arange(10) % 2, 0.3, 0.75)
        draw.polygon([*zip(middle[0] + far * np.cos(turn), middle[1] + far * np.sin(turn), strict=True)], fill=0)
    elif kind == 1:  # rings
        for k, part in enumerate(np.linspace(1, 0.2, int(rng.integers(2, 6)))):
            draw.ellipse((*(middle - part * reach), *(middle + part * reach)), fill=255 * (k % 2 == 0))
    else:  # bars and a wave
        for _ in range(int(rng.integers(3, 8))):
            at = middle + rng.uniform(-1, 1, 2) * reach
            size = reach * rng.uniform(0.1, 0.6, 2)
            draw.rounded_rectangle((*(at - size), *(at + size)), 12, fill=255)
    word = WORDS[int(rng.integers(len(WORDS)))]
    font = ImageFont.load_default(big * rng.uniform(0.05, 0.12))
    draw.text((big * 0.1, big * rng.choice((0.04, 0.84))), word, fill=255, font=font)
    if rng.random() < 0.15:
        inset, wide = 0 if rng.random() < 0.5 else big * 0.015, big * rng.uniform(0.008, 0.03)
        draw.rectangle((inset, inset, big - 1 - inset, big - 1 - inset), outline=255, width=int(wide))
    if rng.random() < 0.35:
        for _ in range(int(rng.integers(40, 200))):
            x, y = rng.uniform(0, big, 2)
            turn, far = rng.uniform(0, 2 * np.pi), rng.uniform(5, 60) * SCALE
            draw.line((x, y, x + far * np.cos(turn), y + far * np.sin(turn)), fill=0, width=int(rng.uniform(1, 7)))
    small = image.resize((SIDE_PX, SIDE_PX), Image.Resampling.BOX)
    return np.asarray(small).astype(np.float32) / 255


def figures(art, truth):
    """Return the figures of one logo over all ways to print it."""
    from sepkit.errors import SepkitError
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.plates.drafts import ink_of
    from sepkit.workshop.print.intake import proposal, single_of
    from sepkit.workshop.print.options import PrintOptions, bench_of
    from sepkit.workshop.print.plan import separated

    shelf = Shelf()
    right, asked, proposed, false, swapped = [], [], [], [], 0
    for cloth in CLOTHS:
        for ink in ("white", "black"):
            options = PrintOptions(Path("logo.png"), cloth, one_ink=ink)
            _, flat, _ = separated(art, options, bench_of(options, shelf))
            (area,) = flat.areas
            right.append(_same(area.coverage / 255, truth.cover) >= SAME_SHARE)
        options = PrintOptions(Path("logo.png"), cloth)
        bench = bench_of(options, shelf)
        _, flat, _ = separated(art, options, bench)
        cover = np.max([np.zeros_like(art.alpha), *(a.coverage for a in flat.areas)], axis=0) / 255
        meant = _same(cover, truth.cover) >= SAME_SHARE and _seen(truth.figure, bench.garment.srgb)
        found = proposal(single_of(art), options, bench)
        (false if meant else proposed).append(found is not None)
        if found is not None:
            options = PrintOptions(Path("logo.png"), cloth, one_ink=found.ink)
            try:
                _, flat, _ = separated(art, options, bench_of(options, shelf))
                asked.append(_same(flat.areas[0].coverage / 255, truth.cover) >= SAME_SHARE)
            except SepkitError:
                asked.append(False)
        wish = "#d03a8c"
        options = PrintOptions(Path("logo.png"), cloth, inks=wish)
        bench = bench_of(options, shelf)
        _, flat, _ = separated(art, options, bench)
        inks = [ink_of(a, bench).name for a in flat.areas if a.coverage.any()]
        told = {finding.code for finding in flat.findings}
        swapped += inks != [wish] or "far-wish" not in told
    row = {"figure ok": 100.0 * np.mean(right), "swapped": float(swapped)}
    if proposed:
        row["proposed"] = 100.0 * np.mean(proposed)
    if false:
        row["false"] = 100.0 * np.mean(false)
    if asked:
        row["proposed ok"] = 100.0 * np.mean(asked)
    return row


def _seen(colour, cloth):
    """Tell whether a figure is seen on the cloth at arm's length."""
    lab = srgb8_to_lab(np.array([colour, cloth], np.uint8))
    return float(delta_e_2000(lab[0], lab[1])) > SEEN_DE00


def _same(one, other):
    """Return overlap over union of two planes of 0..1."""
    return float(np.minimum(one, other).sum() / max(np.maximum(one, other).sum(), 1e-9))


KINDS = (
    Kind(
        "one ink",
        logo,
        figures,
        {
            "refused": below(0),
            "figure ok": above(100),
            "proposed": above(100),
            "proposed ok": above(100),
            "false": below(0),
            "swapped": below(0),
        },
    ),
)
