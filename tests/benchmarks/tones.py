"""Tonal art: films laid over each other, seen from a metre, beside rivals with the same optics.

python -m tests.benchmarks tones [NAME ...] [--cloth white,black] [--inks 1,2,3,4,6,auto] [--against CHECKOUT]
                                 [--record FILE] [--px N]
python -m tests.benchmarks tones --smooth ramps|grain [--seeds 2000-2011] [--cloth white,black] [--inks 4,auto]

Each picture is printed WIDTH_MM wide; its 1-bit films are laid over each other by layer optics and compared with the
art by S-CIELAB at a metre. Rivals in the same run: the sepkit of another checkout, clusters with error diffusion, and
on white cloth cyan, magenta, yellow and black inverted colour by colour. ``--record`` keeps each figure as a line of
JSON, so that a run can be made in parts; what stands there is not made again. ``--smooth`` measures steps and turns of
plates on ramps, and grain under noise (``_tones_smooth``).
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from sepkit.files.art.artwork import read_artwork
from sepkit.files.shelf.shelf import Shelf
from sepkit.film.making import FilmMaking
from sepkit.model import Halftone, Ink, Mesh
from sepkit.workshop.print.film_proof import film_proof
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import plan_print
from tests.benchmarks import _tones_worker
from tests.benchmarks._tones_art import PICTURES, ToneArt
from tests.benchmarks._tones_rivals import clustered, four_process, plate_of
from tests.benchmarks._tones_smooth import grain, ramps

if TYPE_CHECKING:
    from sepkit.model import Plate

WIDTH_MM, PX, FILM_DPI = 100.0, 280, 300.0
REGISTER_MM = 0.5
OURS, OLD, CLUSTERS, PROCESS = "ours", "old", "clusters", "process"


@dataclass(frozen=True, slots=True)
class Figure:
    """One print by one way."""

    picture: str
    cloth: str
    inks: str
    way: str
    screens: int
    mean: float
    p95: float
    off: float
    plan: float
    seconds: float

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What it is a figure of."""
        return self.picture, self.cloth, self.inks, self.way


def main(arguments: Sequence[str]) -> None:
    """Print the table."""
    asked = _parsed(arguments)
    if asked.smooth == "ramps":
        first, last = (int(seed) for seed in asked.seeds.split("-"))
        return ramps(range(first, last + 1), asked.cloth.split(","), asked.inks.split(","))
    if asked.smooth == "grain":
        return grain(asked.px, asked.cloth.split(","), asked.inks.split(","))
    chosen = [art for art in PICTURES if not asked.names or art.name in asked.names]
    known = _known(asked.record)
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory() as folder:
        for art in chosen:
            file = Path(folder) / "art.png"
            Image.fromarray(art.draw(asked.px)).save(file)
            for cloth in asked.cloth.split(","):
                for inks in asked.inks.split(","):
                    for way in _ways(cloth, inks, asked):
                        key = (art.name, cloth, inks, way)
                        figure = known.get(key) or _measured(art, file, key, asked)
                        figures.append(figure)
                        if asked.record and key not in known:
                            with asked.record.open("a") as lines:
                                lines.write(json.dumps(asdict(figure)) + "\n")
                        print(_line(figure), flush=True)
    return _summary(figures)


def _parsed(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="tones")
    parser.add_argument("names", nargs="*")
    parser.add_argument("--cloth", default="white,black")
    parser.add_argument("--inks", default="1,2,3,4,6,auto")
    parser.add_argument("--against", type=Path)
    parser.add_argument("--ways", default=f"{OURS},{OLD},{CLUSTERS},{PROCESS}")
    parser.add_argument("--record", type=Path)
    parser.add_argument("--px", type=int, default=PX)
    parser.add_argument("--smooth", choices=["ramps", "grain"])
    parser.add_argument("--seeds", default="2000-2011")
    return parser.parse_args(arguments)


def _ways(cloth: str, inks: str, asked: argparse.Namespace) -> list[str]:
    fits = {OURS, OLD} if asked.against else {OURS}
    if inks != "auto":
        fits.add(CLUSTERS)
    if cloth == "white" and inks == "4":
        fits.add(PROCESS)
    return [way for way in asked.ways.split(",") if way in fits]


def _known(record: Path | None) -> dict[tuple[str, str, str, str], Figure]:
    if record is None or not record.exists():
        return {}
    found = [Figure(**json.loads(line)) for line in record.read_text().splitlines()]
    return {figure.key: figure for figure in found}


def _measured(art: ToneArt, file: Path, key: tuple[str, str, str, str], asked: argparse.Namespace) -> Figure:
    _, cloth, inks, way = key
    shelf = Shelf()
    garment = shelf.garment(f"{cloth} tee")
    artwork = read_artwork(file, width_mm=WIDTH_MM, height_mm=None, film_dpi=FILM_DPI)
    start = time.process_time()
    making = FilmMaking(FILM_DPI)
    if way == OURS:
        options = PrintOptions(art=file, garment=f"{cloth} tee", width_mm=WIDTH_MM, inks=inks, kind=art.kind)
        plates = list(plan_print(options, bench_of(options, shelf)).separation.plates)
    elif way == OLD:
        plates, making = _by_other(file, f"{cloth} tee", inks, art.kind, asked.against), replace(making, small="raise")
    elif way == CLUSTERS:
        plates = clustered(artwork.rgb, garment, shelf.ink("white"), int(inks), WIDTH_MM)
    else:
        plates = four_process(artwork.rgb, garment, shelf)
    seconds = time.process_time() - start
    proof = film_proof(plates, garment, artwork, making=making, register_error_mm=REGISTER_MM)
    return Figure(*key, len(plates), proof.mean_de00, proof.p95_de00, proof.off_mean_de00, proof.plan_de00, seconds)


def _by_other(file: Path, cloth: str, inks: str, kind: str, checkout: Path) -> list[Plate]:
    """Return the plates that the sepkit of another checkout prints."""
    out = file.with_suffix(".npz")
    subprocess.run(
        [sys.executable, _tones_worker.__file__, str(file), cloth, str(WIDTH_MM), inks, str(out), kind],
        check=True,
        env={**os.environ, "PYTHONPATH": str(checkout)},
        cwd=checkout,
    )
    found = np.load(out)
    plates = []
    for k, printed in enumerate(found["printed"]):
        ink = Ink(f"ink {k}", found["absorption"][k], found["scattering"][k], 1.1, "plastisol", "estimated", (0, 0, 0))
        tone = found["tone"][k]
        lpi = float(found["lpi"][k])
        dots = Halftone(lpi, float(found["angle_deg"][k]), "ellipse") if lpi else None
        mesh = Mesh(*(float(v) for v in found["mesh"][k]))
        plates.append(
            plate_of(k + 1, ink, printed, tone if dots else None, coats=int(found["coats"][k]), dots=dots, mesh=mesh)
        )
    return plates


def _line(f: Figure) -> str:
    return (
        f"{f.picture:14} {f.cloth:6} {f.inks:>4} inks {f.way:9} {f.screens:2} screens  ΔE00 {f.mean:5.2f} mean "
        f"{f.p95:5.2f} p95, {f.off:5.2f} out of register, films against plan {f.plan:.2f}, {f.seconds:5.1f} s"
    )


def _summary(figures: Sequence[Figure]) -> None:
    by_key = {figure.key: figure for figure in figures}
    print()
    for cloth in sorted({figure.cloth for figure in figures}):
        for inks in sorted({figure.inks for figure in figures}):
            ours = [f for f in figures if f.cloth == cloth and f.inks == inks and f.way == OURS]
            if not ours:
                continue
            mean, p95 = (statistics.mean(getattr(f, key) for f in ours) for key in ("mean", "p95"))
            line = f"{cloth:6} {inks:>4} inks: ours {mean:.2f} mean {p95:.2f} p95 of {len(ours)}"
            for way in (OLD, CLUSTERS, PROCESS):
                pairs = [(f, by_key[(*f.key[:3], way)]) for f in ours if (*f.key[:3], way) in by_key]
                if pairs:
                    a, b = (statistics.mean(f.mean for f in side) for side in zip(*pairs, strict=True))
                    line += f"; {way} {b:.2f} ({a / b:.2f} x)"
            rivals = [[g.mean for g in figures if g.key[:3] == f.key[:3] and g.way != OURS] for f in ours]
            if all(rivals):
                best = statistics.mean(min(r) for r in rivals)
                line += f"; best rival of each {best:.2f} ({mean / best:.2f} x)"
            print(line)
    autos = [f for f in figures if f.inks == "auto" and f.way == OURS]
    six = [by_key.get((f.picture, f.cloth, "6", OURS)) for f in autos]
    for auto, most in zip(autos, six, strict=True):
        if most is not None and (auto.screens > 5 or auto.mean > 1.5 * most.mean):
            told = f"{auto.picture} on {auto.cloth}, {auto.screens} screens, {auto.mean:.2f} to {most.mean:.2f}"
            print(f"auto beyond its target: {told}")
    plan = [f.plan for f in figures if f.way == OURS]
    print(f"films against plan {statistics.mean(plan):.2f}; screens of auto {[f.screens for f in autos]}")
