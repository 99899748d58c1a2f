"""A lattice over the cube of sRGB: fitted as a direct solution of its equations is, and even where colours are."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.sparse.linalg import spsolve

from sepkit.colorimetry.tables import cells_of
from sepkit.plates.tonal import lattice as room
from sepkit.plates.tonal.lattice import NEAR, PARTS, Lattice
from sepkit.plates.tonal.table import cells_filled, cells_in_use


def used_by(levels):
    used = np.zeros((PARTS,) * 3, bool)
    used[tuple(cells_of(levels, PARTS)[0].T)] = True
    return used


def missed(lattice, asked, nodes):
    """Return what the equations miss, as a part of what they ask."""
    away = np.linalg.norm(asked - lattice.normal @ nodes, axis=0)
    return (away / np.linalg.norm(asked, axis=0)).max()


def test_a_fit_comes_as_near_as_a_direct_solution_of_its_equations(monkeypatch):
    """In 35 rounds: led by both coarser lattices it takes 28, without the middle one 40, by its diagonal alone 310."""
    monkeypatch.setattr(room, "MOST_ROUNDS", 35)
    rng = np.random.default_rng(4)
    way = rng.uniform(0, 255, (5, 3))
    levels = np.concatenate([a + (b - a) * np.linspace(0, 1, 60)[:, None] for a, b in pairwise(way)])
    weight = rng.uniform(0.5, 2, len(levels))
    lattice = Lattice.of(levels, weight, used_by(levels))
    values = rng.uniform(0, 1, (len(levels), 3))
    asked = lattice.at.T @ (weight[:, None] * values)
    exact = spsolve(lattice.normal.tocsc(), asked)
    fitted = lattice.fitted(values, None)
    assert missed(lattice, asked, fitted) < 1.01 * NEAR
    assert np.abs(lattice.at @ (fitted - exact)).max() < 2e-4
    monkeypatch.setattr(room, "MOST_ROUNDS", 22)  # 28 from nothing, 20 from nodes of values like these
    again = lattice.fitted(values * 0.9, fitted)
    assert missed(lattice, 0.9 * asked, again) < 1.01 * NEAR
    assert np.abs(lattice.at @ (again - 0.9 * exact)).max() < 2e-4


def test_what_is_straight_over_the_cube_is_fitted_as_it_is():
    rng = np.random.default_rng(5)
    levels = np.clip(rng.normal(120, 15, (200, 3)), 0, 255)
    lattice = Lattice.of(levels, np.ones(len(levels)), used_by(levels))
    values = levels @ np.array([[0.2, -0.1], [0.1, 0.4], [0.3, 0.2]]) / 255 + 0.2
    assert np.abs(lattice.at @ lattice.fitted(values, None) - values).max() < 0.01


def test_cells_in_use_are_those_that_colours_lie_in():
    rng = np.random.default_rng(2)
    picture = rng.uniform(0, 255, (300, 40, 3)).astype(np.float32)
    picture[::3] = np.rint(picture[::3])
    edges = (np.arange(PARTS + 1) * np.float32(255 / PARTS)).astype(np.float32)
    picture[1, : len(edges)] = edges[:40, None]
    picture[2, : len(edges)] = np.nextafter(edges, np.float32(0))[:40, None]
    where = rng.random((300, 40)) < 0.7
    where[1:3] = True
    cube = cells_filled(picture, where)
    assert np.array_equal(cells_in_use(cube), used_by(picture[where]))
    assert cube[3].sum() == where.sum()
    assert np.allclose(cube[:3].sum(axis=(1, 2, 3)), picture[where].sum(axis=0, dtype=float))
