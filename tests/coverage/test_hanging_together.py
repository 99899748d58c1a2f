"""Groups of things by links, held against SciPy's connected components."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sepkit.coverage.hanging_together import groups


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 300), st.integers(0, 600), st.integers(0, 2**32 - 1))
def test_groups_are_scipys_connected_components(count: int, links: int, seed: int) -> None:
    one, other = np.random.default_rng(seed).integers(0, count, (2, links))
    graph = coo_array((np.ones(links, bool), (one, other)), shape=(count, count))
    number, theirs = connected_components(graph, directed=False)
    ours, found = groups(one, other, count)
    assert found == number
    first = np.unique(theirs, return_index=True)[1]
    assert np.array_equal(ours, np.argsort(np.argsort(first))[theirs]), "numbered by their first things"


def test_a_long_chain_in_any_order_is_one_group() -> None:
    order = np.random.default_rng(1).permutation(20_000)
    ours, found = groups(order[:-1], order[1:], 20_000)
    assert found == 1 and not ours.any()
