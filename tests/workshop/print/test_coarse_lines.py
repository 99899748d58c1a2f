"""Lines of a scan that the eye sees one by one: printed as lines, and told."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from sepkit.model import Artwork
from sepkit.workshop.print.scans import dots_settled


def test_coarse_lines_are_told_and_stay_lines():
    y, x = np.mgrid[0:420, 0:520].astype(float)
    tone = 0.2 + 0.6 * x / 520
    pitch_px = 150 / 20
    lines = np.cos(2 * np.pi * (0.8 * x + 0.6 * y) / pitch_px) / 2 + 0.5 < np.sin(np.pi / 2 * tone) ** 2
    soft = ndimage.gaussian_filter(lines.astype(float), 0.8) + np.random.default_rng(1).normal(0, 0.01, lines.shape)
    light = 0.86 + (0.01 - 0.86) * np.clip(soft, 0, 1)  # a scanner blurs light
    rgb = np.repeat(np.rint(255 * light ** (1 / 2.2)).astype(np.uint8)[..., None], 3, axis=2)
    new = dots_settled(Artwork(rgb, np.full((420, 520), 255, np.uint8), 88.05, 71.12, "scan"), "average")
    (told,) = new.findings
    assert "20 lpi" in told.text and "kept as lines" in told.text
    assert ((new.alpha > 127) == lines).mean() > 0.94
    assert ((new.alpha > 20) & (new.alpha < 235)).mean() < 0.25 < ((soft > 0.08) & (soft < 0.92)).mean()
