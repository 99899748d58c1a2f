"""S-CIELAB against closed forms, a direct two-dimensional convolution, and what the eye is known to do."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.ndimage import convolve1d
from scipy.signal import convolve2d

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spatial import (
    BLURS,
    _gaussian,
    blurred,
    light_dark_response,
    pixels_per_degree,
    seen_de00,
    seen_lab,
)
from sepkit.colorimetry.srgb import linear_to_lab

PER_DEGREE = 60.0


def test_weights_of_each_channel_sum_to_one() -> None:
    for channel in BLURS:
        assert sum(weight for weight, _ in channel) == pytest.approx(1.0, abs=2e-6)


def test_flat_fields_have_the_plain_difference() -> None:
    """Zhang and Wandell 1997: on large uniform areas S-CIELAB is CIELAB's own difference."""
    colours = np.array([[0.2, 0.05, 0.4], [0.25, 0.07, 0.3]])
    one, other = (np.broadcast_to(c, (40, 50, 3)) for c in colours)
    plain = float(delta_e_2000(*linear_to_lab(colours)))
    assert np.allclose(seen_de00(one, other, PER_DEGREE), plain, atol=0.01)


@pytest.mark.parametrize(("channel", "cycles_per_degree"), [(0, 2.0), (0, 6.0), (0, 15.0), (1, 4.0), (2, 3.0)])
def test_gain_of_gratings_follows_the_published_gaussians(channel: int, cycles_per_degree: float) -> None:
    """The transform of a Gaussian of half-height width w is exp(-(pi f w)² / 4 ln 2); the one of 7° is a flat mean.

    Computed in closed form from the table of the paper, not by the code's kernels.
    """
    per_degree = 120.0
    x = np.arange(960) / per_degree
    wave = np.cos(2 * np.pi * cycles_per_degree * x)[None] * np.ones((3, 1))
    gain = float(blurred(wave, channel, per_degree)[1, 480] / wave[1, 480])
    wanted = 0.0
    for weight, width in BLURS[channel]:
        if width < 0.3:  # narrow ones are hardly cut at one degree
            wanted += weight * math.exp(-((math.pi * cycles_per_degree * width) ** 2) / (4 * math.log(2)))
    assert gain == pytest.approx(wanted, abs=0.035)


@pytest.mark.parametrize("per_mm", [0.0, 0.02, 0.03, 0.06, 0.1, 0.3, 1.0])
def test_response_to_waves_is_that_of_the_blur_itself(per_mm: float) -> None:
    """Slow drifts too: the widest Gaussian, cut at a degree, lets 0.6 of a wave of two degrees through."""
    px_per_mm = 8.0
    x = np.arange(-600, 601) / px_per_mm
    wave = np.tile(np.cos(2 * np.pi * per_mm * x), (3, 1))
    gain = float(blurred(wave, 0, pixels_per_degree(px_per_mm))[1, 600])
    assert float(light_dark_response(np.array(per_mm))) == pytest.approx(gain, abs=0.005)


def test_blur_is_the_direct_sum_of_cut_gaussians() -> None:
    """A two-dimensional convolution written out from the formula E = Σ w exp(-r² / s²), each cut at one degree.

    It samples the Gaussians at pixel middles, ours are means over pixels: on noise that is worth up to 0.03.
    """
    rng = np.random.default_rng(4)
    picture = rng.random((70, 70))
    per_degree, reach = 40.0, 19
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    for channel, parts in enumerate(BLURS):
        kernel = np.zeros((2 * reach + 1, 2 * reach + 1))
        for weight, width in parts:
            spread = width * per_degree / (2 * math.sqrt(math.log(2)))
            gauss = np.exp(-(x**2 + y**2) / spread**2)
            kernel += weight * gauss / gauss.sum()
        direct = convolve2d(picture, kernel, mode="valid")
        ours = blurred(picture, channel, per_degree)[reach:-reach, reach:-reach]
        assert np.abs(direct - ours).max() < 0.03


@pytest.mark.parametrize(("shape", "per_degree"), [((3, 70, 90), 20.0), ((1, 300), 41.0), ((2, 33, 1), 90.0)])
def test_stretches_blur_as_scipy_does(shape: tuple[int, ...], per_degree: float) -> None:
    planes = np.random.default_rng(7).random(shape).astype(np.float32)
    for channel, parts in enumerate(BLURS):
        expected = np.zeros(shape, np.float32)
        for weight, width_deg in parts:
            kernel = _gaussian(width_deg, per_degree)
            down = convolve1d(convolve1d(planes, kernel, axis=-1, mode="nearest"), kernel, axis=-2, mode="nearest")
            expected += np.float32(weight) * down
        assert np.allclose(blurred(planes, channel, per_degree), expected, rtol=0, atol=2e-6)


def test_fine_dots_look_like_their_mean_and_coarse_ones_do_not() -> None:
    fine = np.indices((80, 80)).sum(0) % 2
    coarse = (np.indices((80, 80)) // 20).sum(0) % 2
    grey = np.full((80, 80, 3), 0.5)
    per_degree = pixels_per_degree(16.0)
    seen = [seen_de00(np.repeat(p[..., None].astype(float), 3, 2), grey, per_degree).mean() for p in (fine, coarse)]
    assert seen[0] < 0.5 < 10 < seen[1]


def test_a_hairline_fades_with_distance() -> None:
    page = np.ones((60, 60, 3))
    line = page.copy()
    line[:, 30] = 0.0
    near, far = (float(seen_de00(page, line, pixels_per_degree(5.0, distance_mm=mm)).max()) for mm in (400.0, 3000.0))
    assert near > 2 * far > 0


def test_parts_may_be_blurred_one_by_one() -> None:
    rng = np.random.default_rng(1)
    planes = rng.random((4, 30, 30))
    for channel in range(3):
        whole = blurred(planes.sum(0), channel, 20.0)
        assert np.allclose(whole, blurred(planes, channel, 20.0).sum(0), atol=1e-4)


def test_lab_of_a_flat_white_is_white() -> None:
    lab = seen_lab(np.ones((30, 30, 3)), 30.0)
    assert np.allclose(lab, [100, 0, 0], atol=0.02)
