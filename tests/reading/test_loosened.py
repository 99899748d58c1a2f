"""Equations of a tile whose numbers have an error of their own: independent errors add in covariance."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sepkit.reading.cloth import loosened
from sepkit.reading.tiles import Equation, Tile

RNG = np.random.default_rng(8)
TILE = Tile(np.array([5.0, 5.0]), 8.0, -1, np.zeros(2))


def equation(normal: Any, truth: Any) -> Equation:
    return Equation(TILE, normal, normal @ truth, 0.0, 0.0)


@pytest.mark.parametrize("rank", [2, 4, 6])
def test_what_is_told_keeps_its_middle(rank: int) -> None:
    """However little of it hangs together: an equation without a solution would move a fit without bound."""
    half = RNG.normal(size=(6, rank)) * 50
    truth = RNG.normal(size=6)
    out = loosened(equation(half @ half.T, truth), [3, 4], np.array([0.2, 0.03]))
    assert np.allclose(out.normal @ truth, out.right, atol=1e-6 * np.abs(out.right).max())
    assert np.linalg.eigvalsh(out.normal).min() > -1e-8 * np.linalg.eigvalsh(out.normal).max()


def test_errors_add_as_covariances_do() -> None:
    half = RNG.normal(size=(6, 6))
    normal = half @ half.T + np.eye(6)
    out = loosened(equation(normal, np.ones(6)), [3, 4], np.array([0.5, 0.7]))
    assert np.allclose(np.linalg.inv(out.normal), np.linalg.inv(normal) + np.diag([0, 0, 0, 0.25, 0.49, 0]))
