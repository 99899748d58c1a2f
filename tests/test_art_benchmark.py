"""The art benchmark measures what it says: what was drawn scores as right, and each kind of damage shows."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from tests.benchmarks import _art_measures as measures
from tests.benchmarks._art import FIGURES, kinds
from tests.benchmarks._art_drawing import Sheet, Truth, between_levels, collinear_palette, plain_palette

COLOURS = np.array([(200, 40, 40), (20, 60, 160)])


def drawn(scale=8):
    sheet = Sheet(120, COLOURS, scale)
    sheet.disc(0, 50, 50, 30)
    sheet.polygon(1, [(60, 60), (100, 62), (96, 100)])
    for n in range(5):
        sheet.disc(1, 12 + 20 * n, 108, 3)
    label, colours, _ = sheet.used()
    return Truth(label, colours, scale, 120.0, (255, 255, 255))


def figures(truth, planes, monkeypatch):
    areas = [
        SimpleNamespace(srgb=tuple(c), coverage=np.rint(p * 255).astype(np.uint8), tone=None)
        for c, p in zip([*COLOURS, (90, 90, 90)], planes, strict=False)
    ]
    monkeypatch.setattr(measures, "separated", lambda art, truth: (art, SimpleNamespace(areas=areas)))
    return measures.score(None, truth)


def test_the_truth_scores_as_right(monkeypatch):
    truth = drawn()
    row = figures(truth, [truth.cover(0), truth.cover(1)], monkeypatch)
    assert row["count ok"] == 100 and row["fringe"] == row["specks"] == row["lost"] == row["ringing"] == 0
    assert row["edge ok"] > 99 and row["edge pp"] < 0.2
    assert set(row) <= set(FIGURES)


def test_damage_shows_in_its_own_figure(monkeypatch):
    truth = drawn()
    true = [truth.cover(0), truth.cover(1)]
    gone = true[1].copy()
    gone[103:114, :16] = 0  # one dot
    assert figures(truth, [true[0], gone], monkeypatch)["lost"] == 1
    speck = true[0].copy()
    speck[5, 5] = 1
    assert figures(truth, [speck, true[1]], monkeypatch)["specks"] == 1
    ring = np.where((true[0] > 0.02) & (true[0] < 0.98), 0.3, 0)
    rung = figures(truth, [true[0] * (1 - ring), true[1], ring], monkeypatch)
    assert rung["ringing"] == 1 and rung["count ok"] == 0 and rung["fringe"] > 40
    moved = figures(truth, [np.roll(p, 1, 1) for p in true], monkeypatch)
    assert moved["edge ok"] < 60 and moved["edge pp"] > 10


def test_finer_plates_are_measured_on_their_own_grid(monkeypatch):
    truth = drawn()
    fine = [np.kron(truth.label == n + 1, 1).astype(float) for n in (0, 1)]
    assert figures(truth, fine, monkeypatch)["edge ok"] > 99


@pytest.mark.parametrize("seed", range(3))
def test_palettes_are_what_their_kind_says(seed):
    ground = (255, 255, 255)
    assert between_levels([ground, *plain_palette(np.random.default_rng(seed), 4, ground)]) > 25
    assert between_levels([ground, (0, 0, 0), *collinear_palette(np.random.default_rng(seed), ground)]) < 3


def test_a_seed_draws_the_same_picture_for_ever():
    kind = kinds()["parts"]
    (one, truth), (other, again) = kind.draw(3), kind.draw(3)
    assert (one.rgb == other.rgb).all() and (truth.label == again.label).all()
    assert sorted(set(np.unique(truth.label))) == list(range(len(truth.colours) + 1))
