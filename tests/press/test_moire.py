from __future__ import annotations

import numpy as np
import pytest

from sepkit.model import Halftone, Mesh
from sepkit.press import moire
from sepkit.press.moire import draw, moire_findings, printed_field, rate, suggest

FINE = Mesh(90, 48)


def strongest_beat(mesh, lpi, angle, *, tint=0.1, size_mm=40.0, px_mm=64, slowest=0.06, fastest=0.5):
    """Frequency (per mm) and contrast of the strongest slow wave in a simulated print, by FFT with a Hann window."""
    field = printed_field(mesh, Halftone(lpi, angle, "round"), tint=tint, size_mm=size_mm, px_mm=px_mm)
    window = np.hanning(field.shape[0])
    both = window[:, None] * window[None, :]
    power = np.abs(np.fft.rfft2((field - field.mean()) * both)) * 2 / window.sum() ** 2 / field.mean()
    fy, fx = np.fft.fftfreq(field.shape[0], 1 / px_mm), np.fft.rfftfreq(field.shape[0], 1 / px_mm)
    frequency = np.hypot(fy[:, None], fx[None, :])
    power[(frequency > fastest) | (frequency < slowest)] = 0
    at = np.unravel_index(power.argmax(), power.shape)
    return frequency[at], power[at]


def test_clean_and_dirty_rulings_differ_in_a_simulated_print():
    """The prediction against an FFT of dots x mesh: a ruling rated clean shows less than one rated dirty."""
    dirty = [strongest_beat(FINE, lpi, 22.5)[1] for lpi in (41.0, 43.0)]
    clean = [strongest_beat(FINE, lpi, 22.5)[1] for lpi in (47.0, 53.0)]
    assert min(dirty) > 2 * max(clean)
    assert all(not rate(FINE, lpi, 22.5).clean for lpi in (41.0, 43.0))
    assert all(rate(FINE, lpi, 22.5).clean for lpi in (47.0, 53.0))


@pytest.mark.parametrize(("mesh", "lpi", "angle"), [(FINE, 43, 22.5), (Mesh(43, 80), 27, 45), (Mesh(61, 64), 40, 0)])
def test_predicted_contrast_is_that_of_the_simulation(mesh, lpi, angle):
    _, seen = strongest_beat(mesh, lpi, angle, size_mm=30.0, px_mm=96)
    predicted = rate(mesh, lpi, angle).contrast
    # The rating is the worst within its tolerances, so the simulation at the nominal place may not exceed it by much.
    assert seen < 1.1 * predicted + 0.005
    assert seen > 0.5 * predicted


def test_a_beat_has_the_period_of_the_difference():
    """Dots at 0 degrees whose 4th harmonic lies next to the thread count: |4 x 40 / 25.4 - 6.1| per mm."""
    frequency, _ = strongest_beat(Mesh(61, 64), 40, 0)
    assert frequency == pytest.approx(abs(4 * 40 / 25.4 - 6.1), abs=0.025)


def test_suggestions_are_clean_and_near():
    for mesh in (FINE, Mesh(77, 55), Mesh(120, 34)):
        for lpi in (41.0, 45.0, 60.0):
            better = suggest(mesh, lpi, 22.5)
            assert abs(better - lpi) <= 12
            assert rate(mesh, better, 22.5).contrast <= rate(mesh, lpi, 22.5).contrast
    assert suggest(FINE, 47.0, 22.5) == 47.0


def test_aligned_grids_are_among_the_worst():
    shares = {
        angle: np.mean([rate(FINE, 228.6 / ratio, angle).clean for ratio in np.linspace(3, 6, 31)])
        for angle in (0, 22.5, 40, 45)
    }
    assert shares[40] > shares[0]
    assert shares[22.5] > shares[45]


def test_no_dots_no_moire():
    assert rate(FINE, 43, 22.5, shape="blue-noise").clean
    assert moire_findings(Halftone(43, 22.5, "blue-noise"), FINE, plate="red") == []


def test_a_finding_says_which_ruling_is_better():
    (finding,) = moire_findings(Halftone(43, 22.5, "round"), FINE, plate="red")
    assert finding.level == "warn"
    assert f"--lpi {suggest(FINE, 43, 22.5):g}" in finding.hint
    assert moire_findings(Halftone(47, 22.5, "round"), FINE, plate="red") == []


def test_the_picture_shows_the_pattern_where_there_is_one():
    dirty, clean = draw(FINE, 43, 22.5, size_mm=24), draw(FINE, 53, 22.5, size_mm=24)
    assert dirty.shape == clean.shape == (192, 192)
    assert abs(float(dirty.mean()) - 128) < 2
    assert dirty.std() > 2 * clean.std()


@pytest.mark.parametrize(("mesh", "lpi", "angle"), [(FINE, 43, 22.5), (FINE, 47, 37.5), (Mesh(43, 80), 27, 45)])
def test_pairs_that_are_left_out_beat_too_fast_to_be_seen(mesh, lpi, angle, monkeypatch):
    quick = rate(mesh, lpi, angle)
    monkeypatch.setattr(moire, "_may_be_seen", lambda dots, threads, angle_deg: np.ones(len(dots), bool))
    every = rate(mesh, lpi, angle)
    assert quick.contrast == pytest.approx(every.contrast, rel=1e-9, abs=0)
    assert quick.period_mm == pytest.approx(every.period_mm, rel=1e-6)
