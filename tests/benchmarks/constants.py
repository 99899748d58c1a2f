"""Tuned constants of the separation, each moved by a tenth: which figures move on which art, so that knife-edges show.

    python -m tests.benchmarks constants [NAME ...] [--all] [--holds] [--cache FOLDER]

NAME is a table (``ODDS``) or a field of one (``ODDS.good``); without any all are moved, in about 25 minutes of a core;
a round that was ended goes on where it stood while the code is the same.
A constant is moved by 10 % either way, a whole number by at least 1, and the art is separated again that reads it. Art:
that of the separation benchmark, and art that no constant was tuned on (_fresh_art.py). ``--all`` takes several times
as much of it. A verdict is the number of inks, of screens with tones, and the blend space (of ADVICE: which findings
there are). ``--holds`` walks outward instead, until a verdict changes, fringe or lost parts jump.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from sepkit.model import Artwork, InkRequest
from sepkit.separation import tuned_colours, tuned_mixing
from tests.benchmarks import _fresh_art as fresh
from tests.benchmarks import separation as drawn

STEPS_DOWN, STEPS_UP = (0.9, 0.8, 0.65, 0.5), (1.1, 1.25, 1.5, 2.0)
FRINGE_JUMP, LOST_JUMP = 0.5, 2  # percentage points of edge pixels; parts
VARIANTS = ("aa", "lin", "jpg85", "up3", "jpg60", "web")


@dataclass(frozen=True)
class Constant:
    """One field of a table."""

    module: ModuleType
    table: str
    field: str

    @property
    def name(self) -> str:
        return f"{self.table}.{self.field}"

    @property
    def value(self) -> float:
        return getattr(getattr(self.module, self.table), self.field)

    @contextmanager
    def at(self, value: float) -> Iterator[None]:
        """Put another value in its place for a while."""
        before = getattr(self.module, self.table)
        setattr(self.module, self.table, replace(before, **{self.field: value}))
        try:
            yield
        finally:
            setattr(self.module, self.table, before)

    def times(self, factor: float) -> float:
        """Return the value moved by a factor, by at least 1 when it is a whole number."""
        value = self.value
        if not isinstance(value, int):
            return value * factor
        return value + max(1, round(abs(factor - 1) * value)) * (1 if factor > 1 else -1)


@dataclass(frozen=True)
class Case:
    """One picture: whose art, seed, variant."""

    kind: str
    seed: int
    variant: str

    def __str__(self) -> str:
        return f"{self.kind}-{self.seed}-{self.variant}"


@dataclass(frozen=True)
class Figures:
    """What came of a case. Without truth, fringe, specks, lost and edge error are 0."""

    inks: int
    tones: int
    space: str
    words: tuple[str, ...]
    fringe_pct: float
    specks: float
    lost: float
    edge_pp: float
    unexplained_de00: float
    digest: str

    def verdict(self, table: str) -> tuple[Any, ...]:
        return self.words if table == "ADVICE" else (self.inks, self.tones, self.space)

    def jumps_to(self, other: Figures) -> bool:
        """Tell whether fringe or lost parts differ much."""
        return abs(other.fringe_pct - self.fringe_pct) > FRINGE_JUMP or abs(other.lost - self.lost) >= LOST_JUMP


@dataclass(frozen=True)
class Base:
    """What comes of a case as the tables are, and which constants it reads."""

    figures: Figures
    reads: frozenset[str]


@dataclass(frozen=True)
class Moved:
    """A case that came out otherwise when a constant was moved."""

    case: Case
    before: Figures
    after: Figures


class Watched:
    """A table that notes which of its fields are read."""

    def __init__(self, name: str, table: Any, read: set[str]) -> None:
        self._name, self._table, self._read = name, table, read

    def __getattr__(self, field: str) -> Any:
        self._read.add(f"{self._name}.{field}")
        return getattr(self._table, field)


def constants() -> list[Constant]:
    """Return every field of every table."""
    return [
        Constant(module, name, field.name)
        for module in (tuned_colours, tuned_mixing)
        for name, table in vars(module).items()
        if is_dataclass(table) and not isinstance(table, type)
        for field in fields(table)
    ]


def cases(every: bool) -> list[Case]:
    """Return the art: a selection of 28 pictures, or all."""
    if every:
        tuned_on = [Case("tuned-on", seed, v) for seed in range(8) for v in VARIANTS[:3]]
        new = [Case("fresh", seed, v) for seed in range(20) for v in VARIANTS]
    else:
        tuned_on = [Case("tuned-on", seed, v) for seed, v in enumerate((*VARIANTS[:3], "jpg85"))]
        new = [Case("fresh", seed, VARIANTS[(seed + k) % 6]) for seed in range(9) for k in (0, 3)]
    return [*tuned_on, *new, *(Case("tonal", seed, "aa") for seed in range(12 if every else 6))]


@cache
def picture(case: Case) -> tuple[np.ndarray, np.ndarray | None, np.ndarray | None]:
    """Return (h, w, 4) uint8 art, and its true coverage and colours where it is flat."""
    if case.kind == "tonal":
        return fresh.tonal(case.seed), None, None
    cover, colours = (drawn if case.kind == "tuned-on" else fresh).draw(case.seed)
    if case.variant in ("aa", "lin", "jpg85"):
        return drawn.render(cover, colours, case.variant), cover, colours
    paint = np.einsum("khw,kc->hwc", cover, colours) + (1 - cover.sum(0))[..., None] * 255
    flat = np.rint(np.clip(paint, 0, 255)).astype(np.uint8)
    if case.variant == "jpg60":
        rgb = fresh.compressed(flat, 60)
    else:
        rgb = fresh.enlarged(flat, 3, 75 if case.variant == "web" else None)
    return np.dstack([rgb, np.full(rgb.shape[:2], 255, np.uint8)]), cover, colours


def separated(case: Case, known: Figures | None = None) -> Figures:
    """Separate a case and score it; what comes out as ``known`` is not scored again."""
    from sepkit.separation.separate import separate

    rgba, cover, colours = picture(case)
    size_mm = rgba.shape[1] / drawn.DPI * 25.4
    art = Artwork(rgba[..., :3].copy(), rgba[..., 3].copy(), size_mm, size_mm, "drawn")
    result = separate(art, drawn.WHITE, InkRequest())
    words = tuple(sorted(f.code for f in result.findings))
    hashed = hashlib.sha256(repr((words, result.blend_space, [a.srgb for a in result.areas])).encode())
    for area in result.areas:
        hashed.update(area.coverage.tobytes())
    digest = hashed.hexdigest()
    if known is not None and known.digest == digest:
        return known
    fringe = specks = lost = edge = 0.0
    if cover is not None and colours is not None and result.areas:
        found = [(np.array(a.srgb), a.coverage / 255) for a in result.areas]
        _, _, fringe, specks, lost, edge = drawn.score(cover, colours, found)
    tones = sum(area.tone is not None for area in result.areas)
    off = 0.0 if result.unexplained is None else float(result.unexplained.mean()) / 8
    return Figures(len(result.areas), tones, result.blend_space, words, fringe, specks, lost, edge, off, digest)


def watched(case: Case) -> Base:
    """Separate a case as the tables are, noting what it reads."""
    read: set[str] = set()
    tables = {(c.module, c.table) for c in constants()}
    before = {(module, name): getattr(module, name) for module, name in tables}
    for (module, name), table in before.items():
        setattr(module, name, Watched(name, table, read))
    try:
        return Base(separated(case), frozenset(read))
    finally:
        for (module, name), table in before.items():
            setattr(module, name, table)


def _digest_of_code() -> str:
    """Name the state of the code that figures come from."""
    room = Path(tuned_colours.__file__).parent
    files = [*sorted(room.glob("*.py")), *(Path(m.__file__ or "") for m in (fresh, drawn, sys.modules[__name__]))]
    return hashlib.sha256(b"".join(f.read_bytes() for f in files)).hexdigest()[:16]


def baseline(chosen: list[Case], folder: Path) -> dict[Case, Base]:
    """Return what comes of each case as the tables are, kept in ``folder`` until the code changes."""
    folder.mkdir(parents=True, exist_ok=True)
    kept = folder / f"constants-{_digest_of_code()}.json"
    known = json.loads(kept.read_text()) if kept.exists() else {}
    for case in chosen:
        if str(case) not in known:
            base = watched(case)
            known[str(case)] = {"figures": vars(base.figures), "reads": sorted(base.reads)}
            kept.write_text(json.dumps(known))
    out = {}
    for case in chosen:
        row = known[str(case)]
        figures = Figures(**{**row["figures"], "words": tuple(row["figures"]["words"])})
        out[case] = Base(figures, frozenset(row["reads"]))
    return out


def effects(constant: Constant, value: float, base: dict[Case, Base], *, first: bool = False) -> list[Moved]:
    """Return the cases that come out otherwise with another value; with ``first`` stop at the first other verdict."""
    out = []
    with constant.at(value):
        for case, known in base.items():
            if constant.name not in known.reads:
                continue
            try:
                after = separated(case, known.figures)
            except (ValueError, IndexError, ZeroDivisionError) as error:  # no value of a table may end in one
                print(f"{constant.name} = {value:g} on {case}: {error!r}")
                continue
            if after.digest != known.figures.digest:
                out.append(Moved(case, known.figures, after))
                if first and _is_edge(constant, out[-1]):
                    break
    return out


def _is_edge(constant: Constant, moved: Moved) -> bool:
    before, after = moved.before, moved.after
    return before.verdict(constant.table) != after.verdict(constant.table) or before.jumps_to(after)


def _change(constant: Constant, moved: Moved) -> str:
    """Say what a case became."""
    a, b = moved.before, moved.after
    said = []
    if a.inks != b.inks:
        said.append(f"{a.inks}->{b.inks} inks")
    if a.tones != b.tones:
        said.append(f"{a.tones}->{b.tones} tones")
    if a.space != b.space:
        said.append(b.space)
    if constant.table == "ADVICE" and a.words != b.words:
        said.append(" ".join(sorted(set(a.words) ^ set(b.words))))
    if abs(a.fringe_pct - b.fringe_pct) > FRINGE_JUMP:
        said.append(f"fringe {a.fringe_pct:.1f}->{b.fringe_pct:.1f}")
    if abs(a.lost - b.lost) >= LOST_JUMP:
        said.append(f"lost {a.lost:.0f}->{b.lost:.0f}")
    return f"{moved.case} {', '.join(said)}"


def tenth_table(chosen: list[Constant], base: dict[Case, Base], folder: Path) -> None:
    """Move each constant by a tenth both ways and print a row each, the worst first."""
    rows = []
    kept = folder / f"constants-{_digest_of_code()}-{len(base)}-moves.json"
    known = json.loads(kept.read_text()) if kept.exists() else {}
    for constant in chosen:
        for factor in (0.9, 1.1):
            value = constant.times(factor)
            key = f"{constant.name} {value:.9g}"
            if key in known:
                rows.append((tuple(known[key][0]), known[key][1]))
                continue
            found = effects(constant, value, base)
            edges = [m for m in found if _is_edge(constant, m)]
            inks = sum(m.before.inks != m.after.inks for m in found)
            fringe = max((abs(m.after.fringe_pct - m.before.fringe_pct) for m in found), default=0.0)
            edge = max((abs(m.after.edge_pp - m.before.edge_pp) for m in found), default=0.0)
            lost = max((abs(m.after.lost - m.before.lost) for m in found), default=0.0)
            what = "; ".join(_change(constant, m) for m in edges)
            row = f"{constant.name:31}{constant.value:>9.4g}{value:>9.4g}{len(found):>6}{inks:>6}{lost:>6.0f}"
            rows.append(((inks, len(edges), lost, fringe, edge), f"{row}{fringe:>8.2f}{edge:>8.2f}  {what}"))
            known[key] = rows[-1]
            kept.write_text(json.dumps(known))  # a round takes long: one that was ended goes on
            print(".", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    print(f"{'constant':31}{'value':>9}{'moved to':>9}{'cases':>6}{'inks':>6}{'lost':>6}{'fringe':>8}{'edge pp':>8}")
    for _, row in sorted(rows, key=lambda r: r[0], reverse=True):
        print(row)


def holds_table(chosen: list[Constant], base: dict[Case, Base]) -> None:
    """Print for each constant the range, as far as was tried, in which no verdict changes, and what ends it."""
    for constant in chosen:
        ends, why = [], []
        for steps in (STEPS_DOWN, STEPS_UP):
            last, beyond = constant.value, ""
            for factor in steps:
                value = constant.times(factor)
                if value == last or value < 0:
                    continue
                edges = [m for m in effects(constant, value, base, first=True) if _is_edge(constant, m)]
                if edges:
                    beyond = f"{value:.4g}: {_change(constant, edges[-1])}"
                    break
                last = value
            ends.append(f"{last:.4g}{'' if beyond else ' or ' + ('less' if steps is STEPS_DOWN else 'more')}")
            why.append(beyond)
        print(f"{constant.name:31}{constant.value:>9.4g}  {' to '.join(ends):30}{' | '.join(why)}", flush=True)


def main(args: list[str]) -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks constants")
    parser.add_argument("name", nargs="*")
    parser.add_argument("--all", action="store_true", help="all art; hours for all constants")
    parser.add_argument("--holds", action="store_true", help="how far each may be moved before a verdict changes")
    parser.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "sepkit-benchmarks")
    given = parser.parse_args(args)
    chosen = [c for c in constants() if not given.name or c.table in given.name or c.name in given.name]
    if not chosen:
        parser.error(f"no such constant; tables are {', '.join(dict.fromkeys(c.table for c in constants()))}")
    start = time.perf_counter()
    base = baseline(cases(given.all), given.cache)
    print(f"{len(chosen)} constants, {len(base)} pictures, baseline in {time.perf_counter() - start:.0f} s")
    if given.holds:
        holds_table(chosen, base)
    else:
        tenth_table(chosen, base, given.cache)
    print(f"{time.perf_counter() - start:.0f} s")
