"""The knee: which inks earn their screens, held against a search over all ways to join areas."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spatial import seen_de00
from sepkit.colorimetry.srgb import linear_table
from sepkit.plates.knee import OPEN, Stand, error_to_art, hues_gone, lost_to, reductions, stand_colours
from sepkit.plates.knee_view import KneeView

TABLE = linear_table().astype(np.float64)


def planes_of(sizes: list[int], seed: int) -> np.ndarray:
    """Blocks of so many cells of each area, thrown on a grid."""
    cells = np.repeat(np.arange(len(sizes)), sizes)
    grid = np.full(144, -1)
    grid[np.random.default_rng(seed).permutation(144)[: len(cells)]] = cells
    label = np.kron(grid.reshape(12, 12), np.ones((6, 6), int))
    return np.stack([(label == k).astype(np.uint8) * 255 for k in range(len(sizes))])


def view_of(
    colours: list[tuple[int, int, int]], sizes: list[int], cloth: tuple[int, int, int], seed: int = 0
) -> KneeView:
    """Return blocks of so many cells in each colour as they are seen."""
    planes = planes_of(sizes, seed)
    art = TABLE[np.array(colours)]
    flat = np.ones(len(colours), bool)
    return KneeView.of(planes, art, art, TABLE[np.array(cloth)], flat=flat, dotted=~flat, per_degree=15.0)


DRAWINGS = [
    view_of(
        [(226, 83, 45), (23, 48, 79), (244, 201, 93), (47, 158, 148), (240, 240, 235)], [30, 20, 25, 15, 6], cloth, k
    )
    for k, cloth in enumerate([(26, 26, 28), (250, 250, 248), (170, 30, 40), (150, 150, 155)])
]


@pytest.mark.parametrize("view", DRAWINGS)
@pytest.mark.parametrize("size", [1, 2, 3])
def test_no_way_of_joining_areas_is_seen_much_less(view: KneeView, size: int) -> None:
    """Every map of five areas to inks of one of them or to the cloth, with so many inks: 6^5 maps, none left out."""
    found = reductions(view, sizes=[size])[0]
    usual = delta_e_2000(view.wish, view.usual)
    near = np.array([1.0] * 5)
    best = np.inf
    for inks in product(range(-1, 5), repeat=5):
        kept = {ink for ink in inks if ink != OPEN}
        if len(kept) != size or any(inks[ink] != ink for ink in kept):
            continue
        colours = stand_colours(view, [Stand(ink) for ink in inks])
        best = min(best, lost_to(view, colours, usual=usual, missed=near))
    ours = lost_to(view, stand_colours(view, found.stands), usual=usual, missed=near)
    opened = sum(one.ink == OPEN for one in found.stands)
    assert ours <= 1.1 * best + 1e-6 or opened, "a colour near the cloth may stay open at less than its plain loss"
    assert ours <= 1.5 * best + 1e-6


@pytest.mark.parametrize("seed", range(3))
def test_what_looks_the_same_is_looked_at_once_and_counts_for_all(seed: int) -> None:
    """The error is that of S-CIELAB on whole pictures, over what prints."""
    sizes, cloth = [40, 25, 12], TABLE[np.array((26, 26, 28))]
    view = view_of([(226, 83, 45), (23, 48, 79), (244, 201, 93)], sizes, (26, 26, 28), seed)
    planes = planes_of(sizes, seed) / 255
    colours = TABLE[np.array([(200, 90, 60), (40, 40, 90), (250, 220, 120)])]
    art, other = (
        np.tensordot(planes, of, axes=(0, 0)) + (1 - planes.sum(axis=0))[..., None] * cloth
        for of in (view.art, colours)
    )
    plain = (seen_de00(art, other, 15.0) * planes.sum(axis=0)).sum() / planes.sum()
    assert view.parts.shape[1] < np.count_nonzero(planes.any(axis=0))
    assert error_to_art(view, colours) == pytest.approx(plain, rel=1e-4)


def test_more_inks_never_lose_more() -> None:
    for view in DRAWINGS:
        lost = [one.lost for one in reductions(view, sizes=[1, 2, 3, 4, 5])]
        assert all(b <= a + 1e-9 for a, b in pairwise(lost))
        assert lost[-1] == pytest.approx(0, abs=1e-6)


def test_a_colour_nearer_to_the_cloth_is_missed_less() -> None:
    cloth = (26, 26, 28)
    lost = []
    for level in (30, 45, 60, 80, 110, 150):
        view = view_of([(240, 60, 40), (level, level, level + 4)], [40, 30], cloth)
        open_one = (Stand(0), Stand(OPEN))
        usual = delta_e_2000(view.wish, view.usual)
        lost.append(lost_to(view, stand_colours(view, open_one), usual=usual))
    assert lost == sorted(lost)


def test_a_small_bright_eye_counts_for_more_than_its_size() -> None:
    view = view_of([(90, 60, 40), (250, 250, 250)], [80, 1], (26, 26, 28))
    share = view.parts[1].sum() / view.parts.sum()
    assert view.weight[1] > 5 * share


def test_dots_stand_for_a_lighter_shade_on_white() -> None:
    view = view_of([(20, 60, 160), (138, 158, 205)], [40, 40], (250, 250, 248))
    dotted = replace(view, dotted=np.ones(2, bool))
    one = reductions(dotted, sizes=[1])[0]
    assert one.kept == (0,) and one.stands[1].ink == 0 and one.stands[1].share < 1


def test_many_colours_are_searched_too() -> None:
    rng = np.random.default_rng(3)
    colours = [tuple(int(v) for v in rng.integers(20, 250, 3)) for _ in range(20)]
    view = view_of(colours, [7] * 20, (26, 26, 28))  # type: ignore[arg-type]
    found = reductions(view, sizes=[2, 4, 6, 20])
    assert [len(one.kept) for one in found] == [2, 4, 6, 20]
    assert found[0].lost > found[1].lost > found[2].lost > found[3].lost


def test_pinned_inks_stay() -> None:
    found = reductions(DRAWINGS[0], sizes=[2], pinned=frozenset({4}))[0]
    assert 4 in found.kept


def test_a_hue_that_is_nowhere_else_is_gone_and_a_shade_or_the_cloth_s_own_colour_is_not() -> None:
    colours = [(24, 122, 90), (250, 250, 250), (240, 170, 30), (32, 110, 84), (20, 22, 26)]
    view = view_of(colours, [60, 40, 4, 20, 10], (26, 26, 28))
    whole = [Stand(k) for k in range(5)]
    assert hues_gone(view, whole) == ()
    assert hues_gone(view, [*whole[:2], Stand(1), *whole[3:]]) == (2,), "gold that prints as white"
    assert hues_gone(view, [*whole[:3], Stand(0), whole[4]]) == (), "another green"
    assert hues_gone(view, [*whole[:4], Stand(OPEN)]) == (), "black left to black cloth"
