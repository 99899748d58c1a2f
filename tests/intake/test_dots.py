"""Printed dots: told with ruling and angle, averaged out, kept; and never seen in art that has none.

Rulings, angles and tints are those that the scans were drawn with (tests/benchmarks/_art_scans.py). Seeds were not used
for any number.
"""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.intake.descreen import averaged, kept, one_ink_of, ruling_energy
from sepkit.intake.dots import find_dots
from sepkit.intake.lines import find_screens
from sepkit.model import Artwork
from tests.benchmarks._art_scans import clean, scan


def artwork(rgb, dpi):
    height, width = rgb.shape[:2]
    opaque = np.full((height, width), 255, np.uint8)
    return Artwork(rgb, opaque, width * 25.4 / dpi, height * 25.4 / dpi, "scan")


@pytest.mark.parametrize("seed", [700, 701, 702, 703])
def test_a_scan_is_told_with_its_ruling_and_angle(seed):
    drawn = scan(seed, height=520, width=520)
    screens = find_dots(drawn.rgb, dpi=drawn.dpi)
    assert screens
    assert screens[0].lpi == pytest.approx(drawn.lpi, rel=0.02)
    off = [
        abs((screen.angle_deg - drawn.angle_deg + 15) % 30 - 15) for screen in screens
    ]  # inks stand 30 degrees apart
    assert min(off) < 2


@pytest.mark.parametrize("seed", range(800, 816))
def test_clean_tone_art_is_no_scan(seed):
    assert find_dots(clean(seed, height=400, width=520), dpi=300) == ()


def test_averaged_dots_are_even_and_hold_nothing_of_the_ruling():
    drawn = scan(705, height=520, width=700)
    art = artwork(drawn.rgb, drawn.dpi)
    screens = find_dots(drawn.rgb, dpi=drawn.dpi)
    after = averaged(art, screens)
    step = drawn.rgb.shape[1] / after.rgb.shape[1]
    over = after.rgb * (after.alpha / 255.0)[..., None] + 255 * (1 - after.alpha / 255.0)[..., None]
    edge = int(5 * drawn.dpi / drawn.lpi)  # dots at the edge of an area average with what lies beside it
    for y0, y1, x0, x1 in drawn.flats:
        before = drawn.rgb[y0 + edge : y1 - edge, x0 + edge : x1 - edge, 1]
        box = tuple(int(v / step) for v in (y0 + edge, y1 - edge, x0 + edge, x1 - edge))
        flat = over[box[0] : box[1], box[2] : box[3]]
        assert ruling_energy(flat[..., 1], screens, scale=step) < 0.02 * ruling_energy(before, screens)
        lab = srgb8_to_lab(np.rint(flat).astype(np.uint8))
        mean = srgb8_to_lab(np.rint(flat.mean(axis=(0, 1))).astype(np.uint8))
        assert float(delta_e_2000(lab, np.broadcast_to(mean, lab.shape)).mean()) < 2


def test_an_even_lattice_averages_to_its_mean_light():
    """A raster of square dots: what is left is the mean of the light, whatever the phase (a closed form)."""
    y, x = np.mgrid[0:300, 0:300]
    rgb = np.where(((x % 6) < 3) & ((y % 6) < 3), 0, 255).astype(np.uint8)[..., None].repeat(3, axis=2)
    screens = find_dots(rgb, dpi=300)
    assert [round(screen.lpi) for screen in screens] == [50]
    after = averaged(artwork(rgb, 300), screens)
    cover = after.alpha[10:-10, 10:-10] / 255
    assert abs(cover.mean() - 0.25) < 0.02
    assert cover.std() < 0.004


def test_kept_dots_are_a_crisp_bitmap_of_one_ink():
    drawn = next(one for one in (scan(seed, height=400, width=520) for seed in range(720, 740)) if one.inks == "k")
    art = artwork(drawn.rgb, drawn.dpi)
    ink = one_ink_of(art)
    bitmap = kept(art)
    assert ink is not None
    assert bitmap is not None
    assert bitmap.alpha.shape == art.alpha.shape
    before = ink.share(np.asarray((drawn.rgb / 255.0) ** 2.2))
    soft = lambda plane: float(((plane > 0.1) & (plane < 0.9)).mean())  # noqa: E731
    assert soft(bitmap.alpha / 255) < 0.6 * soft(before)
    assert float(bitmap.alpha.mean() / 255) == pytest.approx(float(before.mean()), abs=0.06)


def test_dots_of_several_inks_are_not_kept():
    drawn = next(one for one in (scan(seed, height=300, width=400) for seed in range(740, 760)) if one.inks == "cmyk")
    assert kept(artwork(drawn.rgb, drawn.dpi)) is None


@pytest.mark.parametrize("seed", [702, 703])
def test_lines_that_swell_with_the_tone_are_a_screen(seed):
    drawn = scan(seed, height=400, width=520, lines=True)
    (screen,) = find_screens(drawn.rgb, dpi=drawn.dpi)
    assert screen.lines
    assert screen.lpi == pytest.approx(drawn.lpi, rel=0.02)
    off = (screen.angle_deg - drawn.angle_deg) % 90
    assert min(off, 90 - off) < 2
    after = averaged(artwork(drawn.rgb, drawn.dpi), (screen,))
    even = (after.alpha / 255.0)[20:60, 20:60]
    assert np.abs(np.diff(even, axis=1)).max() < 0.06  # no line is left


@pytest.mark.parametrize("seed", [802, 810])
def test_drawn_stripes_of_one_width_are_no_screen(seed):
    rgb = clean(seed, height=400, width=520)
    assert find_screens(rgb, dpi=300) == find_screens(rgb, dpi=600) == ()
