"""What is measured and drawn only where something may show or has changed, held against all of it."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.preview import scene, stress
from sepkit.preview.scene import Asked, Grid, Scene
from tests.helpers.plates import plate, rectangle

DPI = 254.0
SHAPE = (300, 260)


def _plates(seed: int):
    """Return a base, a tone and a flat colour; all but the tone with edges of their own as printed."""
    rng = np.random.default_rng(seed)
    y = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]][0]
    tone = np.where(y < 150, np.clip(y + rng.integers(-8, 8, SHAPE), 0, 255), 0).astype(np.uint8)
    top, left = (int(v) for v in rng.integers(160, 200, 2))
    flat = rectangle(SHAPE, top, 20, top + 70, left)
    base = np.maximum(rectangle(SHAPE, 0, 0, 150, SHAPE[1]) // 2, flat)
    choked = base.copy()
    choked[:, :4] = choked[:, -3:] = 0
    grown = np.maximum(flat, np.roll(flat, 3, axis=1))
    return [
        plate(base, name="underbase", role="underbase", of="white", printed=choked, tone=(y < 150) & (base > 0)),
        plate(tone, name="blue", of="blue", tone=tone > 0),
        plate(flat, printed=grown),
    ]


def _without_base(seed: int):
    """Return a tone, and far below it two flat colours side by side, one on another tone."""
    left = int(np.random.default_rng(seed).integers(90, 170))
    y, x = np.mgrid[0:900, 0 : SHAPE[1]]
    sky = np.where(y < 40, 90, 0).astype(np.uint8)
    half = np.where((y >= 760) & (y < 840) & (x >= 30) & (x < left), 140, 0).astype(np.uint8)
    flat = rectangle((900, SHAPE[1]), 760, left, 840, 230)
    tone = np.maximum(sky, half)
    return [plate(tone, name="blue", of="blue", tone=tone > 0), plate(flat)]


@pytest.mark.parametrize("seed", range(4))
def test_tints_are_made_solid_wherever_that_is_looked_at(monkeypatch, seed):
    plates, shape = _without_base(seed), (900, SHAPE[1])
    grid = Grid.of(shape, DPI, 0.5)
    asked, looked = Asked.of(plates, grid), []

    def told(which):
        one = Scene.of(plates, which, grid, asked=asked)
        return list(one.areas_mm2()), [one.marks(shift) for shift in one.shifts_of(1)]

    rows_with = scene._rows_with
    monkeypatch.setattr(scene, "_rows_with", lambda *given: looked.append(rows_with(*given)) or looked[-1])
    areas, marks = told("printed")
    assert any(gap > 0 for _, _, gap in areas)
    assert 0 < looked[0].start < looked[0].stop
    monkeypatch.setattr(scene, "_rows_with", lambda mask, around: slice(0, len(mask)))
    plain_areas, plain_marks = told("printed")
    assert areas == plain_areas
    assert all(np.array_equal(a, b) for a, b in zip(marks, plain_marks, strict=True))


@pytest.mark.parametrize("seed", range(4))
def test_the_second_column_is_drawn_as_the_first_would_be(monkeypatch, seed):
    def colour(stack):
        return np.array([0.02, 0.02, 0.02]) + sum((0.1 + 0.2 * k) * np.array([1, 0.5, 0.3 * k]) for k in stack)

    plates = _plates(seed)
    sheet, _ = stress.stress_sheet(plates, colour, dpi=DPI, error_mm=0.5, panel_px=150)
    drawn = stress._drawn
    monkeypatch.setattr(stress, "_drawn", lambda *given: drawn(*given[:-1], None))
    plain, _ = stress.stress_sheet(plates, colour, dpi=DPI, error_mm=0.5, panel_px=150)
    assert np.array_equal(sheet, plain)
