from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from sepkit.colorimetry.tables import ColourTable, cells_of


@pytest.mark.parametrize("parts", [4, 32])
def test_between_nodes_values_are_weighed_by_the_volumes_across(parts):
    rng = np.random.default_rng(parts)
    cube = rng.uniform(-1, 2, (3, parts + 1, parts + 1, parts + 1)).astype(np.float32)
    row = rng.permutation((parts + 1) ** 3).astype(np.int32)
    values = np.empty((3, row.size), np.float32)
    values[:, row] = cube.reshape(3, -1)
    levels = np.concatenate([rng.uniform(0, 255, (500, 3)), [(0, 0, 0), (255, 255, 255), (255, 0, 127.5)]])
    first, within = cells_of(levels, parts)
    assert first.min() == 0 and first.max() == parts - 1
    assert within.min() >= 0 and within.max() <= 1
    plain = np.zeros((3, len(levels)))
    for corner in product((0, 1), repeat=3):
        share = np.prod(np.where(np.array(corner) == 1, within, 1 - within), axis=1)
        plain += share * cube[(slice(None), *(first + corner).T)]
    np.testing.assert_allclose(ColourTable(values, row, parts).at(levels), plain, atol=1e-6)


def test_a_node_has_its_own_value():
    parts = 8
    values = np.arange((parts + 1) ** 3, dtype=np.float32)[None]
    levels = np.array(list(product(range(parts + 1), repeat=3))) * (255 / parts)
    table = ColourTable(values, np.arange(values.size, dtype=np.int32), parts)
    np.testing.assert_allclose(table.at(levels)[0], values[0], atol=1e-3)
