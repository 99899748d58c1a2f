"""One run of sepkit with its stages timed: ``python -m tests.benchmarks._stages REPORT words of the command``.

``_stages floor ART FOLDER WIDTH_MM`` does the least that such a print takes.

Functions at the doors of a stage are wrapped wherever they are bound; what runs inside a stage counts to it, but for a
stage inside another, which counts for itself. The report (JSON) holds for each stage seconds, processor seconds and
the peak memory of the process meanwhile. Work in other processes (films, mostly) is told by what the system counts.
Stages that run beside each other in threads are booked each by itself; what is left, imports and the bare garment that
is painted ahead among it, is the rest.
"""

from __future__ import annotations

import functools
import importlib
import json
import resource
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

DOORS: dict[str, tuple[str, ...]] = {
    "read": ("sepkit.files.art.artwork:read_artwork",),
    "palette": (
        "sepkit.separation.palette:find_clean_members",
        "sepkit.separation.palette:find_noisy_members",
        "sepkit.separation.palette:label_clean",
        "sepkit.separation.palette:label_noisy",
    ),
    "choose": ("sepkit.workshop.print.many_colours:settled", "sepkit.workshop.print.inks:inks_chosen"),
    "decide": ("sepkit.plates.overprint_plan:decide_plates",),
    "findings": (
        "sepkit.workshop.print.findings:plan_findings",
        "sepkit.workshop.print.films:film_findings",
        "sepkit.press.preflight:preflight",
        "sepkit.workshop.print.ink_findings:ink_findings",
    ),
    "pictures": (
        "sepkit.workshop.print.predict:predicted_print",
        "sepkit.workshop.print.proof:proofed",
        "sepkit.workshop.print.picture:preview_picture",
        "sepkit.workshop.print.picture:compare_picture",
        "sepkit.preview.marked:marked_picture",
        "sepkit.workshop.print.write:_png",
    ),
    "write": (
        "sepkit.workshop.print.write:record_of_print",
        "sepkit.files.folders.entries:write_plates",
        "sepkit.files.films.spot_pdf:write_spot_pdf",
    ),
    "films": ("sepkit.workshop.print.films:write_films",),
}
STAGES = ("read", "palette", "edges", "tones", "choose", "decide", "findings", "films", "pictures", "write", "rest")
SEPARATION = {"picture": "palette", "edges": "edges", "tones": "tones"}
"""What the separation tells as done, and the stage that was; all up to a step counts to its stage."""
WHOLE = frozenset({"choose", "pictures", "films", "write"})
"""Stages that hold small forms of others, such as the plans of the ladder, which count to them."""


@dataclass(slots=True)
class Cost:
    """What a stage took."""

    seconds: float = 0.0
    processor_s: float = 0.0
    peak_mib: float = 0.0


class Clock:
    """Books time to stages, each thread with a pile of its own."""

    def __init__(self) -> None:
        self.costs = {stage: Cost() for stage in STAGES}
        self.local = threading.local()
        self.lock = threading.Lock()

    @property
    def pile(self) -> list[str]:
        """Stages open in this thread, outermost first."""
        if not hasattr(self.local, "pile"):
            self.local.pile, self.local.since = [], self._now()
        pile: list[str] = self.local.pile
        return pile

    def enter(self, stage: str) -> None:
        """Open a stage inside the one that is open."""
        outer = self.pile[-1] if self.pile else None
        self.book(outer)
        self.pile.append(outer if outer is not None and outer in WHOLE else stage)

    def leave(self) -> None:
        """Close the innermost stage."""
        self.book(self.pile.pop())

    def book(self, stage: str | None) -> None:
        """Book what passed in this thread since the last call to ``stage``; None: to nothing."""
        now = self._now()
        before, self.local.since = self.local.since, now
        with self.lock:
            peak = _peak_mib()
            if stage is not None:
                cost = self.costs[stage]
                cost.seconds += now[0] - before[0]
                cost.processor_s += now[1] - before[1]
                cost.peak_mib = max(cost.peak_mib, peak)

    def __call__(self, stage: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """Return ``work``, booked to ``stage``."""

        @functools.wraps(work)
        def booked(*args: Any, **named: Any) -> Any:
            self.enter(stage)
            try:
                return work(*args, **named)
            finally:
                self.leave()

        return booked

    def separation(self, work: Callable[..., Any]) -> Callable[..., Any]:
        """Return ``separate`` with its steps booked as it tells them."""

        @functools.wraps(work)
        def booked(*args: Any, **named: Any) -> Any:
            if self.pile and self.pile[-1] in WHOLE:
                return work(*args, **named)
            named["on_step"] = _Steps(self, named.get("on_step"))
            self.enter("palette")
            try:
                return work(*args, **named)
            finally:
                self.leave()

        return booked

    @staticmethod
    def _now() -> tuple[float, float]:
        return time.perf_counter(), time.thread_time()


class _Steps:
    """Progress of the separation: each step moves on to the next stage."""

    def __init__(self, clock: Clock, onward: Any) -> None:
        self.clock, self.onward = clock, onward

    def step(self, stage: str, done: int, total: int) -> None:
        """Book what is done to its stage."""
        following = {"picture": "edges", "edges": "tones", "tones": "tones"}.get(stage)
        if following is not None:
            self.clock.book(SEPARATION[stage])
            self.clock.pile[-1] = following
        if self.onward is not None:
            self.onward.step(stage, done, total)


def _peak_mib() -> float:
    """Return the peak memory since the last call, where the system can tell that, else since the start."""
    try:
        text = Path("/proc/self/status").read_text()
        Path("/proc/self/clear_refs").write_text("5")
        return float(text.split("VmHWM:")[1].split()[0]) / 1024
    except (OSError, IndexError):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _bind(name: str, wrap: Callable[[Callable[..., Any]], Callable[..., Any]]) -> None:
    """Put a wrapped function in the place of the plain one in every module that holds it."""
    module, function = name.split(":")
    plain = getattr(importlib.import_module(module), function)
    wrapped = wrap(plain)
    for other in [m for key, m in sys.modules.items() if key.startswith("sepkit")]:
        for key, value in list(vars(other).items()):
            if value is plain:
                setattr(other, key, wrapped)


def used() -> tuple[resource.struct_rusage, resource.struct_rusage]:
    """Return what this process and all that it started used; workers count once their server has ended."""
    with suppress(ImportError, AttributeError):
        server = importlib.import_module("multiprocessing.forkserver")._forkserver
        server._stop()
    return resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)


def floor(art: Path, folder: Path, width_mm: float) -> None:
    """Do what any program would: read the art, look once at each pixel, write these films."""
    from sepkit.files.art.artwork import read_artwork
    from sepkit.files.folders.print_folder import read_print_folder
    from sepkit.workshop.print.films import write_films

    read = read_artwork(art, width_mm=width_mm)
    int(read.rgb.max()), int(read.alpha.max())
    write_films(folder, read_print_folder(folder).record)
    used()


def main(report: Path, words: list[str]) -> int:
    """Run ``sepkit WORDS`` with its stages booked, and write the report."""
    started = time.perf_counter()
    importlib.import_module("sepkit.workshop.print.write")
    importlib.import_module("sepkit.workshop.print.check")
    importlib.import_module("sepkit.separation.separate")
    clock = Clock()
    for stage, doors in DOORS.items():
        for door in doors:
            _bind(door, functools.partial(clock, stage))
    _bind("sepkit.separation.separate:separate", clock.separation)
    from sepkit.cli.main import main as run

    whole_peak = 0.0
    try:
        run(words)
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    with clock.lock:
        whole_peak = max([_peak_mib(), *(cost.peak_mib for cost in clock.costs.values())])
    own, others = used()
    clock.costs["films"].processor_s += others.ru_utime + others.ru_stime
    total = Cost(
        time.perf_counter() - started, own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime, whole_peak
    )
    rest = clock.costs["rest"]
    rest.processor_s = total.processor_s - sum(cost.processor_s for cost in clock.costs.values())
    rest.peak_mib = 0.0
    told = {
        "stages": {stage: asdict(cost) for stage, cost in clock.costs.items()},
        "whole": asdict(total),
        "workers_peak_mib": others.ru_maxrss / 1024,
    }
    report.write_text(json.dumps(told))
    return code


if __name__ == "__main__":
    if sys.argv[1] == "floor":
        floor(Path(sys.argv[2]), Path(sys.argv[3]), float(sys.argv[4]))
    else:
        sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
