"""What a change for the better never makes worse: heads and rounds, nearness to the cloth and screens."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.files.shelf.shelf import Shelf
from sepkit.model import InkArea, Size
from sepkit.plates.bench import Bench
from sepkit.plates.choices import choices_of
from sepkit.plates.decide import decide
from sepkit.plates.knee import OPEN
from sepkit.workshop.print.options import PrintOptions, bench_of

MM = 120.0
PALETTE = [(226, 83, 45), (23, 48, 79), (244, 201, 93), (47, 158, 148), (240, 240, 235), (20, 20, 22), (150, 60, 140)]


@lru_cache
def bench_on(garment: str) -> Bench:
    return bench_of(PrintOptions(art=Path("none.png"), garment=garment), Shelf())


def areas_of(label: np.ndarray, colours: list[tuple[int, int, int]]) -> list[InkArea]:
    """Return an area for each number of a map of cells, ten pixels a cell; -1 is left open."""
    big = np.kron(label, np.ones((10, 10), int))
    planes = [np.where(big == k, np.uint8(255), np.uint8(0)) for k in range(len(colours))]
    return [InkArea(rgb, plane) for rgb, plane in zip(colours, planes, strict=True) if plane.any()]


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 7), st.sampled_from(["black tee", "white tee", "red tee"]))
def test_a_head_more_never_adds_a_round(seed: int, count: int, garment: str) -> None:
    rng = np.random.default_rng(seed)
    areas = areas_of(rng.integers(-2, count, (6, 6)), PALETTE[:count])
    if not areas:
        return
    rounds = []
    for heads in (1, 2, 3, 5):
        bench = bench_on(garment)
        plan = decide(areas, Size(MM, MM), replace(bench, press=replace(bench.press, heads=heads)))
        rounds.append(len(plan.rounds.rounds))
    assert rounds == sorted(rounds, reverse=True)


@pytest.mark.parametrize(
    ("garment", "cloth", "far"),
    [
        ("black tee", (26, 26, 28), (30, 60, 170)),
        ("white tee", (244, 244, 242), (170, 40, 60)),
        ("black tee", (26, 26, 28), (128, 128, 128)),
    ],
)
def test_a_colour_nearer_to_the_cloth_never_gains_a_screen(
    garment: str, cloth: tuple[int, int, int], far: tuple[int, int, int]
) -> None:
    """A bar on bare cloth beside an orange one: nearer to the cloth it loses its screen, and never gains one."""
    label = np.full((6, 6), -1)
    label[1:5, 1:3], label[1:5, 4] = 0, 1
    screens = []
    for step in (0, 4, 7):
        near = tuple(round(c + (f - c) * (1 - step / 8)) for c, f in zip(cloth, far, strict=True))
        areas = areas_of(label, [PALETTE[0], (near[0], near[1], near[2])])
        knee = choices_of(areas, Size(MM, MM), bench_on(garment)).knee
        screens.append(knee.screens)
    assert screens == sorted(screens, reverse=True)
    assert knee.reduction.stands[1].ink == OPEN or garment == "white tee", "on black it is left to the cloth"
