from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from sepkit.model import Artwork, InkRequest
from sepkit.separation.background import background_of, without_background
from sepkit.separation.separate import separate

GARMENT = (26, 26, 28)


def ring_on_white(*, clear: bool) -> Artwork:
    """A red ring with a white middle, antialiased, on white paper or on transparency."""
    big = Image.new("RGBA", (1600, 1200), (255, 255, 255, 0 if clear else 255))
    draw = ImageDraw.Draw(big)
    draw.ellipse((300, 200, 1300, 1000), fill=(200, 40, 40, 255))
    draw.ellipse((600, 400, 1000, 800), fill=(255, 255, 255, 255))
    image = np.asarray(big.resize((400, 300), Image.Resampling.BOX))
    return Artwork(image[..., :3].copy(), image[..., 3].copy(), 100, 75, "ring")


def test_the_background_opens_and_what_the_art_encloses_stays() -> None:
    flat = separate(ring_on_white(clear=False), GARMENT, InkRequest())
    assert background_of(flat) is not None
    told = next(f for f in flat.findings if f.code == "printed-background")
    assert told.level == "warn"
    opened = without_background(flat)
    white = next(area for area in opened.areas if min(area.srgb) > 240)
    assert white.coverage[5, 5] == 0
    assert white.coverage[150, 200] == 255
    assert background_of(opened) is None


def test_edges_end_as_on_a_transparent_ground() -> None:
    opened = without_background(separate(ring_on_white(clear=False), GARMENT, InkRequest()))
    clear = separate(ring_on_white(clear=True), GARMENT, InkRequest())
    for area in clear.areas:
        near = min(opened.areas, key=lambda a: sum(abs(x - y) for x, y in zip(a.srgb, area.srgb, strict=True)))
        difference = np.abs(near.coverage.astype(int) - area.coverage)
        assert difference.mean() < 0.3
        assert (difference > 40).mean() < 0.001


def test_art_without_a_background_is_left_alone() -> None:
    flat = separate(ring_on_white(clear=True), GARMENT, InkRequest())
    assert without_background(flat) is flat


def test_a_background_beside_tones_is_told_too() -> None:
    rgb = np.full((120, 160, 3), 255, np.uint8)
    rgb[30:90, 40:120] = np.linspace(255, 20, 80).astype(np.uint8)[None, :, None]
    art = Artwork(rgb, np.full((120, 160), 255, np.uint8), 30.0, 22.5, "shade")
    flat = separate(art, (20, 20, 22), InkRequest())
    assert "printed-background" in {finding.code for finding in flat.findings}
