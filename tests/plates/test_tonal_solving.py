"""What films make together, dots for colours: held against layer optics, CIEDE2000 of scikit-image, known prints."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.colorimetry.tables import ColourTable
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.layers import printed_reflectance
from sepkit.plates.tonal.calm import calmed, noise_of
from sepkit.plates.tonal.candidates import candidates_of, with_missed
from sepkit.plates.tonal.choose import Candidate, ScreenSet, Task, screen_sets
from sepkit.plates.tonal.cloud import cloud_of, stands_out
from sepkit.plates.tonal.lattice import Lattice
from sepkit.plates.tonal.metric import Wanted, light_to_lab
from sepkit.plates.tonal.optics import Film, mean_light, stack_light, stack_reflectance
from sepkit.plates.tonal.screens import FULL_DOT, _levels
from sepkit.plates.tonal.solve import MOST_INK, solve_dots
from sepkit.plates.tonal.table import Gathered, ToneTable, tone_table
from sepkit.workshop.print.options import PrintOptions, bench_of
from tests.helpers.plate_turns import turns_of

SHELF = Shelf()
WHITE_TEE = SHELF.garment("white tee").reflectance
INKS = [SHELF.ink(name) for name in ("process yellow", "process magenta", "process cyan", "black")]
STACKS = stack_light([Film(ink) for ink in INKS], WHITE_TEE)


def test_stacks_are_those_of_layer_optics() -> None:
    films = [Film(SHELF.ink("white"), 2), Film(INKS[1]), Film(INKS[3])]
    found = stack_reflectance(films, WHITE_TEE)
    for bits in range(8):
        stack = [(film.ink, float(film.coats)) for k, film in enumerate(films) if bits >> k & 1]
        np.testing.assert_allclose(found[bits], printed_reflectance(stack, WHITE_TEE), atol=1e-12)


def test_half_of_two_inks_is_a_quarter_of_each_stack() -> None:
    """Demichel (1924)."""
    np.testing.assert_allclose(mean_light(np.array([[0.5, 0.5, 0, 0]]), STACKS)[0], STACKS[:4].mean(axis=0))


def test_the_straight_metric_is_nearly_ciede2000() -> None:
    rng = np.random.default_rng(3)
    lab = np.column_stack([rng.uniform(5, 95, 400), rng.uniform(-50, 50, 400), rng.uniform(-30, 60, 400)])
    beside = lab + rng.normal(0, 0.7, lab.shape)
    far = np.linalg.norm(np.einsum("mij,mj->mi", Wanted.of(lab).scale, beside - lab), axis=1)
    true = deltaE_ciede2000(lab, beside)
    assert np.abs(far / true - 1).mean() < 0.04


def test_dots_of_a_known_print_are_found_again() -> None:
    rng = np.random.default_rng(5)
    dots = rng.uniform(0, 0.6, (200, 3))
    stacks = stack_light([Film(ink) for ink in INKS[:3]], WHITE_TEE)
    lab = light_to_lab(mean_light(dots, stacks))
    found = solve_dots(stacks, Wanted.of(lab), start=np.full(dots.shape, 0.3), steps=40)
    assert deltaE_ciede2000(light_to_lab(mean_light(found, stacks)), lab).max() < 1.0
    assert np.abs(found - dots).mean() < 0.02


def test_ink_at_one_place_is_bounded() -> None:
    black = Wanted.of(np.array([[0.0, 0.0, 0.0]]))
    found = solve_dots(STACKS, black, start=np.full((1, 4), 0.5), steps=40)
    assert found.sum() < MOST_INK + 0.1


def _ramp(one: tuple[int, ...], other: tuple[int, ...]) -> np.ndarray:
    t = np.linspace(0, 1, 256)[None, :, None]
    return np.rint(np.repeat(np.array(one) * (1 - t) + np.array(other) * t, 16, axis=0)).astype(np.uint8)


RAMPS = [((255, 230, 180), (40, 20, 90)), ((255, 255, 255), (30, 20, 60))]
THIN_RAMP = ((151, 132, 200), (151, 120, 220))
"""Without nodes a cell beside its colours a plate turned eight times along it."""
RAMP_STACKS = stack_light([Film(SHELF.ink(name)) for name in ("yellow", "violet", "black")], WHITE_TEE)


def _table(calm: np.ndarray) -> ToneTable:
    known = light_to_lab(np.array([[0.5, 0.5, 0.5]])), np.full((1, 3), 0.3)
    return tone_table(Gathered.of(calm, np.ones(calm.shape[:2], bool)), RAMP_STACKS, coats=np.ones(3), known=known)


@pytest.mark.parametrize(("one", "other"), [*RAMPS, THIN_RAMP])
def test_plates_of_a_ramp_are_smooth(one: tuple[int, ...], other: tuple[int, ...]) -> None:
    calm = calmed(_ramp(one, other))
    dots = _table(calm).dots(calm[8]).T
    seen = light_to_lab(mean_light(dots, RAMP_STACKS))
    assert deltaE_ciede2000(seen[1:], seen[:-1]).max() < 1.5
    assert max(turns_of(np.rint(dots[:, k] * 255), 2) for k in range(3)) <= 1


def test_nodes_of_a_ramp_do_lie_beyond_what_a_plate_holds() -> None:
    assert _table(calmed(_ramp(*RAMPS[0]))).nodes.values.min() < -0.01


def test_grain_is_calmed_and_edges_stay() -> None:
    rng = np.random.default_rng(1)
    clean = _ramp((90, 90, 90), (150, 140, 130)).repeat(4, axis=0)
    clean[:, 128:] = 30
    noisy = np.clip(clean + rng.normal(0, 4, clean.shape), 0, 255).round().astype(np.uint8)
    assert 2.5 < noise_of(noisy) < 6
    calm = calmed(noisy)
    assert (calm[:, 12:116] - clean[:, 12:116]).std() < 0.9
    assert calm[:, 124].mean() - calm[:, 131].mean() > 80


def test_slow_noise_is_calmed_and_a_slope_kept() -> None:
    """Noise as a JPEG leaves it: second differences of pixels hardly know it."""
    from scipy.ndimage import gaussian_filter

    clean = _ramp((40, 60, 90), (220, 200, 130)).repeat(6, axis=0)
    slow = gaussian_filter(np.random.default_rng(2).normal(0, 1, clean.shape), (1.2, 1.2, 0))
    noisy = np.clip(clean + 1.8 * slow / slow.std(), 0, 255).round().astype(np.uint8)
    away = (calmed(noisy) - clean)[:, 8:-8]
    assert away.std() < 0.55 * (noisy.astype(float) - clean)[:, 8:-8].std()
    assert abs(away.mean()) < 0.1


def test_nodes_may_lie_beyond_what_a_plate_holds() -> None:
    """Between a node at -0.2 and one at 0.2 a plate is open to the middle; clipped nodes would have it waver."""
    row = np.zeros(33**3, np.int32)
    row[16 * 33 * 33 :] = 1
    table = ToneTable(ColourTable(np.array([[-0.2, 0.2]], np.float32), row, 32))
    levels = np.stack([np.linspace(15, 16, 5) * 255 / 32, np.full(5, 4.0), np.full(5, 4.0)], axis=1)
    np.testing.assert_allclose(table.dots(levels)[0], [0, 0, 0, 0.1, 0.2], atol=1e-5)
    colours = np.array([[60.0, 60, 60], [90, 90, 90], [120, 120, 120], [150, 150, 150], [180, 180, 180]])
    used = np.zeros((32, 32, 32), bool)
    used[np.arange(7, 24), np.arange(7, 24), np.arange(7, 24)] = True
    kinked = np.array([0.0, 0, 0, 0.5, 1])[:, None]
    assert Lattice.of(colours, np.ones(5), used).fitted(kinked, None).min() < -0.01


def test_a_small_colour_that_stands_out_counts_beside_its_area() -> None:
    lab = np.array([[60.0, -3, -2], [64, -2, -1], [45, 60, 30], [66, -2, -2]])
    area = np.array([0.4, 0.3, 0.02, 0.28])
    out = stands_out(lab, area)
    assert out.argmax() == 2 and out[2] > 2
    assert 0.3 < out[0] < 1


def test_what_stock_inks_miss_is_mixed_for(tmp_path: Path) -> None:
    """Sea green as light as paper: no overprint of stock inks has it on a base, which turns all inks dull."""
    sea = _ramp((120, 214, 198), (90, 180, 188)).repeat(8, axis=0)
    bench = bench_of(PrintOptions(art=tmp_path / "no.png", garment="black tee", width_mm=100.0), SHELF)
    cloud = cloud_of(sea, np.ones(sea.shape[:2], bool))
    task = Task(cloud, np.zeros((0, 3)), np.zeros(0), bench.garment.reflectance, bench.base_ink, base=True)
    stock = candidates_of(bench, [])
    offered = with_missed(stock, task, bench)
    assert all(one.mixed for one in offered[len(stock) :])
    before, after = (screen_sets(task, some, most=3, quick=True)[-1].loss for some in (stock, offered))
    assert after < 0.7 * before


def test_a_flat_colour_counts_as_the_inks_can_print_it_and_not_as_a_tone_beside_it() -> None:
    """A red line over brown and blue tones: what yellow, cyan and black make of the tones says nothing of it."""
    tones = np.concatenate([_ramp((250, 248, 244), (120, 70, 30)), _ramp((250, 248, 244), (90, 160, 210))])
    cloud = cloud_of(tones, np.ones(tones.shape[:2], bool))
    red = srgb8_to_lab(np.array([(200, 30, 40)], np.uint8)).astype(float)
    beside = cloud.lab[np.linalg.norm(cloud.lab - red, axis=1).argmin()][None]

    def best(line: np.ndarray, third: str) -> ScreenSet:
        task = Task(cloud, line, np.array([0.4]), WHITE_TEE, SHELF.ink("white"), base=False)
        some = [Candidate(SHELF.ink(ink)) for ink in ("process yellow", "process cyan", third)]
        return screen_sets(task, some, most=3, quick=True)[-1]

    assert best(red, "black").loss > best(beside, "black").loss + 1
    assert best(red, "red").loss < best(red, "black").loss - 1
    assert best(beside, "red").flat_dots.shape == (1, 3)


def test_a_lattice_is_fitted_as_its_equations_say() -> None:
    """Held against SciPy's direct solver; a column of nothing stays nothing."""
    from scipy.sparse.linalg import spsolve

    rng = np.random.default_rng(4)
    levels = rng.uniform(90, 150, (300, 3))
    used = np.zeros((32, 32, 32), bool)
    used[11:19, 11:19, 11:19] = True
    lattice = Lattice.of(levels, np.ones(300), used)
    values = np.stack([levels[:, 0] / 255, rng.random(300), np.zeros(300)], axis=1)
    for start in (None, np.full((len(lattice.normal.diagonal()), 3), 0.4)):
        nodes = lattice.fitted(values, start)
        exact = spsolve(lattice.normal.tocsc(), lattice.at.T @ values)
        assert np.abs(lattice.at @ (nodes - exact)).max() < 0.01
        assert not nodes[:, 2].any()
    assert not lattice.fitted(np.zeros((300, 2)), None).any()


def test_traces_of_dots_and_of_gaps_come_in_gradually() -> None:
    full = np.float32(FULL_DOT)
    near = [np.nextafter(edge, np.float32(to)) for edge in (full, 1 - full) for to in (0, 1)]
    dots = np.concatenate([np.linspace(0, 1, 4001, dtype=np.float32), [full, 1 - full, *near]]).reshape(1, -1)
    t = np.clip(dots / FULL_DOT, 0, 1)
    low = dots * t * t * (3 - 2 * t)
    t = np.clip((1 - dots) / FULL_DOT, 0, 1)
    gap = (1 - dots) * t * t * (3 - 2 * t)
    plain = np.rint(np.where(dots < 0.5, low, 1 - gap) * 255)
    assert np.array_equal(_levels(dots), plain)
    assert (np.diff(_levels(dots)[0, :4001].astype(int)) >= 0).all()
