"""Photographs of prints and of the wedge, read against exact truth (simulated): register, spots, refusals.

    python -m tests.benchmarks photo   # 8 designs x 2 photographs, the wedge once, bad ones
    python -m tests.benchmarks photo --only prints --each 10        # more of each; half flat, half by lamp light
    python -m tests.benchmarks photo --only plain                   # no check discs; or tones, perfect, wedge, bad ...
    python -m tests.benchmarks photo --record r.jsonl --stop 350    # what is in r.jsonl is not made again
    python -m tests.benchmarks photo --sum r.jsonl                  # its tables
    python -m tests.benchmarks photo --seed 9000                    # other photographs

Seeds from 7000 on were never looked at while limits were chosen. Nothing here is a real photograph.
"""

from __future__ import annotations

import argparse
import json
import resource
import tempfile
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

from sepkit.errors import PhotoError
from sepkit.files.folders.print_folder import read_print_folder
from sepkit.workshop.photo.subject import subject_of_folder
from tests.benchmarks._photo_colours import lines as colour_lines
from tests.benchmarks._photo_designs import EVERY, FLAT, LINED, TONED
from tests.benchmarks._photo_scores import Record, by_design, laid, picture, scored, summary
from tests.benchmarks._photo_wedge import wedge_lines
from tests.helpers.photographs import random_shot, take_photo
from tests.helpers.printed_cloth import FILM_DPI, printed_folder
from tests.helpers.small_prints import small_folder

FIRST_SEED = 7000
SPOT_SIZES_MM = (0.3, 0.5, 1.0, 2.0)


@dataclass(frozen=True)
class Set:
    """Photographs of designs."""

    designs: dict[str, tuple[str, str]]
    first: int
    """Its seeds begin so far after the one that is given."""
    discs: bool = True
    """Whether their films carry check discs."""
    spot_sizes_mm: tuple[float, ...] = SPOT_SIZES_MM
    broken_mm: tuple[float, ...] = (0.0,)
    """Lines up to one of these widths break here and there."""


SETS = {
    "prints": Set(FLAT, 50),
    "plain": Set(FLAT, 0, discs=False),
    "tones": Set(TONED, 50),
    "perfect": Set(FLAT, 75, spot_sizes_mm=()),
    "lines": Set(LINED, 50, spot_sizes_mm=(), broken_mm=(0.2, 0.25, 0.3, 0.35)),
}


@dataclass
class Kept:
    """Records of photographs, kept in a file when one is named; those in it are not made again."""

    path: Path | None
    stop: float
    records: list[Record] = field(default_factory=list)

    def __post_init__(self) -> None:
        if self.path is not None and self.path.exists():
            self.records = [json.loads(line) for line in self.path.read_text().splitlines()]

    def has(self, key: Record) -> bool:
        return any(all(one.get(k) == v for k, v in key.items()) for one in self.records)

    @property
    def late(self) -> bool:
        return time.monotonic() > self.stop

    def add(self, record: Record) -> None:
        self.records.append(record)
        if self.path is not None:
            with self.path.open("a") as file:
                file.write(json.dumps(record, default=float) + "\n")


def main(args: list[str]) -> None:
    """Run the sets that are asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks photo")
    parser.add_argument("--each", type=int, default=2, help="photographs of each design")
    parser.add_argument("--seed", type=int, default=FIRST_SEED)
    parser.add_argument("--px", type=float, default=10.0, help="pixels for each mm")
    parser.add_argument("--width", type=float, default=100.0, help="width of the designs in mm")
    parser.add_argument("--only", choices=[*SETS, "wedge", "bad", "colours"])
    parser.add_argument("--designs", nargs="+", choices=list(EVERY))
    parser.add_argument("--record", type=Path, help="file of records to go on with")
    parser.add_argument("--prints", type=Path, help="folder that print folders are kept in, and taken from")
    parser.add_argument("--stop", type=float, default=1e9, help="seconds after which no new photograph is begun")
    parser.add_argument("--sum", type=Path, help="print the tables of a file of records")
    given = parser.parse_args(args)
    if given.sum:
        _tables(Kept(given.sum, 0.0).records)
        return
    kept = Kept(given.record, time.monotonic() + given.stop)
    with tempfile.TemporaryDirectory() as temporary:
        scratch = str(given.prints or temporary)
        for name in SETS:
            if given.only in (None, name):
                _prints(Path(scratch), given, kept, name)
        _tables(kept.records)
        if given.only in (None, "colours"):
            for line in colour_lines(given.seed):
                print(f"   {line}")
        if given.only in (None, "bad"):
            _bad(Path(scratch), given, kept)
        if given.only in (None, "wedge"):
            for line in wedge_lines(given.seed, given.each):
                print(line, flush=True)
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB (simulator included)")


def _folder(scratch: Path, name: str, width: float, discs: bool) -> Path:
    from sepkit.workshop.print.options import PrintOptions
    from sepkit.workshop.print.write import make_prints

    garment, drawn = EVERY[name]
    scratch.mkdir(parents=True, exist_ok=True)
    art = scratch / f"{name}.svg"
    art.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">{drawn}</svg>')
    folder = scratch / f"{name}-{'discs' if discs else 'plain'}"
    if (folder / "separation.json").exists():
        return folder
    options = PrintOptions(art, garment, width_mm=width, check_discs=discs, ladder=False, film_dpi=FILM_DPI)
    make_prints([options], folder, force=True)
    return folder


def _prints(scratch: Path, given: argparse.Namespace, kept: Kept, name: str) -> None:
    row = SETS[name]
    for design in given.designs or row.designs:
        number = list(EVERY).index(design)
        keys = [
            {
                "set": name,
                "design": design,
                "seed": given.seed + row.first + 100 * number + nth,
                "flat": nth % 2 == 0,
                "px_per_mm": given.px,
                "width": given.width,
            }
            for nth in range(given.each)
        ]
        keys = [key for key in keys if not kept.has(key)]
        if not keys or kept.late:
            continue
        folder = _folder(scratch, design, given.width, row.discs)
        printed, subject = printed_folder(folder), subject_of_folder(read_print_folder(folder))
        for key in keys:
            if kept.late:
                break
            seed, flat = key["seed"], key["flat"]
            shot = random_shot(printed, seed, px_per_mm=given.px, flat=flat, sizes=row.spot_sizes_mm)
            shot.broken_mm, shot.broken_from_mm = row.broken_mm[seed // 2 % len(row.broken_mm)], 0.0
            taken = take_photo(printed, shot)
            record = key | scored(subject, printed, taken)
            kept.add(record)
            print(f"  {name} {design} {key['seed']}: {_line(record)}", flush=True)


def _line(record: Record) -> str:
    if "refused" in record:
        return f"refused: {record['refused']}"
    words = [
        f"{s['name']} {s['off']:.3f} (± {s['band']:.3f}{', untold' if s['why'] else ''})"
        for s in record["screens"]
        if s["off"] is not None
    ]
    spots = record["spots"]
    missed, false = len(spots["missed"]), len(spots["false"])
    return f"{', '.join(words)}; {len(spots['hits'])} spots, {missed} missed, {false} false; {record['seconds']} s"


def _tables(records: list[Record]) -> None:
    for name in dict.fromkeys(one["set"] for one in records):
        for flat in (True, False):
            mine = [one for one in records if one["set"] == name and one["flat"] == flat]
            if not mine:
                continue
            print(f"{name}, {'flat under even light' if flat else 'as a phone gives by lamp light'}")
            for line in summary(mine):
                print(f"   {line}")
        print(f"{name}, by design")
        for line in by_design([one for one in records if one["set"] == name]):
            print(f"   {line}")


def _bad(scratch: Path, given: argparse.Namespace, kept: Kept) -> None:
    """Photographs that must be refused, and the reason each is refused for."""
    folder = small_folder(scratch / "small")
    other = subject_of_folder(read_print_folder(small_folder(scratch / "other", turned=True, discs=False)))
    printed, subject = printed_folder(folder), subject_of_folder(read_print_folder(folder))
    ways = {
        "blurred": {"blur_px": 4.5},
        "glare": {"glare": 2.5},
        "from aside": {"tilt_deg": (38.0, 12.0)},
        "folds": {"folds": 4, "fold_mm": 4.0},
        "cut off": {"aside": (0.3, 0.1)},
        "3 px/mm": {"px_per_mm": 3.0},
        "sound": {},
        "another print": {},
    }
    print("photographs to refuse (the sound ones not)")
    for kind, changed in ways.items():
        told = []
        for nth in range(max(1, given.each)):
            if kept.late:
                break
            shot = random_shot(printed, given.seed + 900 + nth, px_per_mm=given.px, sizes=())
            taken = take_photo(printed, replace(shot, **changed))
            try:
                fit = laid(other if kind == "another print" else subject, picture(taken))
                told.append(f"taken (strayed {fit.strayed:.2f}, misfit {fit.misfit:.2f}, blur {fit.blur_px2:.2f})")
            except PhotoError as error:
                told.append(error.text)
        print(f"   {kind}: {'; '.join(told)}", flush=True)
