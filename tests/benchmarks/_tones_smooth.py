"""Smoothness of tonal plates: steps and turns on ramps of 256 levels, grain under noise.

In: seeds, cloths, numbers of inks. Out: printed figures. Ramps lie between two colours of a seed in sRGB, ΔE00 25 apart
or more; their rims, where a base is choked, are left out. A plate turns where it changes its way by more than
``TURN_LEVELS``. Grain is by how much plates of smooth art differ from one draw of a camera's noise to the next.
"""

from __future__ import annotations

import statistics
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.files.shelf.shelf import Shelf
from sepkit.plates.tonal.metric import light_to_lab
from sepkit.plates.tonal.optics import Film, mean_light, stack_light
from sepkit.plates.tonal.screens import SmallPicture, set_screens
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import plan_print
from tests.benchmarks._tones_art import PICTURES, as_jpeg
from tests.helpers.plate_turns import turns_of

if TYPE_CHECKING:
    from sepkit.model import U8, Plate
    from sepkit.plates.bench import Bench
    from sepkit.workshop.print.plan import PlannedPrint

Array = np.ndarray[Any, np.dtype[Any]]

RAMP_MM, GRAIN_MM = 200.0, 100.0
RAMP_ROWS = 24
RIM_PX = 3
TURN_LEVELS = 2
MOST_STEP, MOST_TURNS, MOST_GRAIN = 1.5, 1, 2.0
NOISE_LEVELS = 4.0
NOISES = (7, 8)
APART_DE00 = 25.0


def ramps(seeds: Sequence[int], cloths: Sequence[str], inks: Sequence[str]) -> None:
    """Print for each ramp the largest step of its predicted print and the turns of its plates."""
    rows: list[tuple[float, int]] = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ramp.png"
        for seed in seeds:
            colours = _ends(seed)
            art = _ramp(colours)
            Image.fromarray(art).save(file)
            for cloth in cloths:
                for count in inks:
                    plates = _plan(file, cloth, count, RAMP_MM).separation.plates
                    dots = np.stack([plate.printed[RAMP_ROWS // 2, RIM_PX:-RIM_PX] for plate in plates], axis=-1)
                    lab = _predicted(dots / 255, plates, cloth)
                    asked = srgb8_to_lab(art[0, RIM_PX:-RIM_PX]).astype(float)
                    step, own = (float(delta_e_2000(one[1:], one[:-1]).max()) for one in (lab, asked))
                    turns = [turns_of(dots[:, k], TURN_LEVELS) for k in range(dots.shape[1])]
                    rows.append((step, max(turns)))
                    away = float(delta_e_2000(lab, asked).mean())
                    print(
                        f"ramp {seed} {cloth:6} {count:>4} inks: largest step ΔE00 {step:.2f} (its own {own:.2f}), "
                        f"turns {turns}, {away:.2f} from the art",
                        flush=True,
                    )
    good = statistics.mean(step <= MOST_STEP for step, _ in rows)
    held = statistics.mean(turns <= MOST_TURNS for _, turns in rows)
    print(
        f"{len(rows)} ramps: steps of {MOST_STEP} at most {good:.0%}, worst {max(s for s, _ in rows):.2f}; "
        f"plates that turn once at most {held:.0%}, worst {max(t for _, t in rows)}"
    )


def _ends(seed: int) -> U8:
    rng = np.random.default_rng(seed)
    while True:
        colours = rng.integers(0, 256, (2, 3)).astype(np.uint8)
        lab = srgb8_to_lab(colours).astype(float)
        if delta_e_2000(lab[0], lab[1]) > APART_DE00:
            return colours


def _ramp(colours: U8) -> U8:
    share = np.linspace(0, 1, 256)[None, :, None]
    return np.rint(np.repeat(colours[0] * (1 - share) + colours[1] * share, RAMP_ROWS, axis=0)).astype(np.uint8)


def _plan(file: Path, cloth: str, inks: str, width_mm: float) -> PlannedPrint:
    options = PrintOptions(art=file, garment=f"{cloth} tee", width_mm=width_mm, inks=inks, kind="tonal")
    return plan_print(options, bench_of(options, Shelf()))


def _predicted(dots: Array, plates: Sequence[Plate], cloth: str) -> Array:
    films = [Film(plate.ink, plate.coats) for plate in plates]
    return light_to_lab(mean_light(dots, stack_light(films, Shelf().garment(f"{cloth} tee").reflectance)))


def grain(px: int, cloths: Sequence[str], inks: Sequence[str]) -> None:
    """Print how much of the noise of smooth art is in its plates, in the inks that are chosen without noise."""
    worst: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "art.png"
        for art in PICTURES:
            if not art.smooth:
                continue
            clean = art.draw(px)
            Image.fromarray(clean).save(file)
            draws = [clean + np.random.default_rng(seed).normal(0, NOISE_LEVELS, clean.shape) for seed in NOISES]
            noisy = [np.clip(np.rint(one), 0, 255).astype(np.uint8) for one in draws]
            for cloth in cloths:
                for count in inks:
                    bench = _plan(file, cloth, count, GRAIN_MM).bench
                    for ending, pictures in (("png", noisy), ("jpg", [as_jpeg(one, 80) for one in noisy])):
                        sigma = _grain_of(bench, pictures)
                        worst.append(max(sigma))
                        told = " ".join(f"{one:.2f}" for one in sigma)
                        print(f"grain {art.name:14} {ending} {cloth:6} {count:>4} inks: {told} levels", flush=True)
    held, mean = statistics.mean(one <= MOST_GRAIN for one in worst), statistics.mean(worst)
    print(f"grain of the worst plate: mean {mean:.2f}, worst {max(worst):.2f} levels, {held:.0%} of {len(worst)} held")


def _grain_of(bench: Bench, pictures: Sequence[U8]) -> list[float]:
    """Return the standard deviation of each plate from one draw of noise to the other."""
    assert bench.weighed is not None
    everywhere = np.ones(pictures[0].shape[:2], bool)
    small = [SmallPicture.of(picture, everywhere) for picture in pictures]
    one, other = (set_screens(bench.weighed.chosen, picture, bench)[0] for picture in small)
    away = [a.coverage.astype(np.float32) - b.coverage for a, b in zip(one, other, strict=True)]
    return [float(plane[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX].std() / np.sqrt(2)) for plane in away]
