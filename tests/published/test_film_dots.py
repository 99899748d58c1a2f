"""Dots measured on the finished film: ruling and angle by Fourier transform, edges against vector truth.

The Fourier transform of an even tint has its first peak at the ruling and the angle of the screen; the peak's place
between samples is found by a parabola through the logarithm of a Hann-windowed spectrum.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import ndimage

from sepkit.film.rows import FilmSettings, plan_film
from sepkit.model import Halftone

PERIODS = 165


def tint_film(halftone, dpi, level=102):
    plane = np.full((8, 8), level, np.uint8)
    # As many dots as it takes to find the peak within a hundredth of a degree.
    side_mm = PERIODS * 25.4 / halftone.lpi
    film = plan_film(
        plane, np.ones(plane.shape, bool), halftone, width_mm=side_mm, height_mm=side_mm, settings=FilmSettings(dpi=dpi)
    )
    return np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px).astype(float)


def peak(bits, lpi, dpi):
    """Return (ruling in lpi, angle in degrees counter-clockwise) of the strongest peak near the ruling."""
    n = bits.shape[0]
    window = np.hanning(n)
    power = np.abs(np.fft.fft2((bits - bits.mean()) * window[:, None] * window[None, :]))
    frequency = np.fft.fftfreq(n)
    radius = np.hypot(frequency[:, None], frequency[None, :]) * dpi
    power[(radius < 0.9 * lpi) | (radius > 1.1 * lpi)] = 0
    j, i = np.unravel_index(power.argmax(), power.shape)

    def between(before, here, after):
        a, b, c = np.log(before), np.log(here), np.log(after)
        return 0.5 * (a - c) / (a - 2 * b + c)

    dx = between(power[j, i - 1], power[j, i], power[j, (i + 1) % n])
    dy = between(power[j - 1, i], power[j, i], power[(j + 1) % n, i])
    fx, fy = frequency[i] + dx / n, frequency[j] + dy / n
    return math.hypot(fx, fy) * dpi, math.degrees(math.atan2(-fy, fx))


@pytest.mark.parametrize(
    ("lpi", "angle", "dpi"),
    [(45, 22.5, 720), (50, 15, 720), (55, 7.5, 720), (38, 61, 720), (35, 37.5, 720), (65, 82.5, 720), (55, 7.5, 1440)],
)
def test_ruling_and_angle_on_the_film(lpi, angle, dpi):
    ruling, turned = peak(tint_film(Halftone(lpi, angle, "round"), dpi), lpi, dpi)
    assert ruling == pytest.approx(lpi, rel=5e-4)
    # A square screen has peaks every 90 degrees.
    assert abs((turned - angle + 45) % 90 - 45) < 0.02


def test_angles_turn_counter_clockwise():
    """A line screen has one direction only: its lines run along the angle, its peak stands across."""
    _, turned = peak(tint_film(Halftone(45, 20, "line"), 720), 45, 720)
    assert abs((turned - 90 - 20 + 90) % 180 - 90) < 0.02


def shape_truth(x, y):
    """Signed distance (mm, positive inside) of a ring and of a slanted square, exact by geometry."""
    ring = 3.0 - np.abs(np.hypot(x - 10.0, y - 10.0) - 5.0)
    c, s = math.cos(0.3), math.sin(0.3)
    u, v = (x - 26) * c + (y - 10) * s, -(x - 26) * s + (y - 10) * c
    square = 5.0 - np.maximum(np.abs(u), np.abs(v))
    return np.maximum(ring, square)


def edge_deviations_um(art_dpi=300.0, film_dpi=720.0, width_mm=36.576, height_mm=20.32):
    """Return how far each film edge lies from the true outline, for antialiased art of the two shapes."""
    fine = 8
    w, h = round(width_mm / 25.4 * art_dpi), round(height_mm / 25.4 * art_dpi)
    pixel = 25.4 / art_dpi
    y, x = (np.mgrid[0 : h * fine, 0 : w * fine] + 0.5) * pixel / fine
    cover = (shape_truth(x, y) > 0).reshape(h, fine, w, fine).mean(axis=(1, 3))
    plane = np.rint(cover * 255).astype(np.uint8)
    film = plan_film(plane, None, None, width_mm=w * pixel, height_mm=h * pixel, settings=FilmSettings(dpi=film_dpi))
    bits = np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px).astype(bool)
    edge = bits ^ ndimage.binary_erosion(bits, border_value=1)
    outer = ~bits & ndimage.binary_dilation(bits)
    step = 25.4 / film_dpi
    wrong = []
    for mask, sign in ((edge, 1.0), (outer, -1.0)):
        j, i = np.nonzero(mask)
        depth = shape_truth((i + 0.5) * step, (j + 0.5) * step) * sign
        # A pixel on the right side of the true outline is right; on the wrong side it is off by its depth.
        wrong.append(np.maximum(0.0, -depth))
    return np.concatenate(wrong) * 1000


def test_film_edges_follow_the_vector_outline():
    away = edge_deviations_um()
    # Corners of the square are cut by the art's own pixels; a film pixel is 35 µm.
    assert np.percentile(away, 99) <= 14
    assert away.max() <= 28
