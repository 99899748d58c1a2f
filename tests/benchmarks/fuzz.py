"""Broken and hostile files by the thousand: every one is read or refused in one line, in time and memory.

    python -m tests.benchmarks fuzz [--inputs 20000] [--seed 1] [--first 0] [--kind svg] [--keep DIR]
    python -m tests.benchmarks fuzz --inputs 5000 --first 5000 --record b.jsonl    # in parts ...
    python -m tests.benchmarks fuzz --sum a.jsonl b.jsonl                          # ... and one table of them
    python -m tests.benchmarks fuzz --show 12345                                   # one input, what it ran and said
    python -m tests.benchmarks fuzz --guided svg --seconds 60

Artwork, job files, ink and recipe files, CSV and print folders are broken by a seeded generator and read; one in twelve
goes through its whole command. Wrong is: a traceback, an exit code that the README does not have, an error that is
not one plain line, words of a decoder on stderr, anything written outside the output folder or left half-written,
more than 20 s, more than 1.5 GB. Seconds are the processor's, of the reader and the processes that it starts: a busy
machine makes nothing hang. What waits without working hangs after 5 minutes by the clock. --guided lets coverage choose
the changes (atheris).
"""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import multiprocessing
import os
import shutil
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from multiprocessing.connection import wait
from pathlib import Path
from typing import Any

from tests.benchmarks._fuzz_worker import Outcome, Worker, kind_of, work
from tests.benchmarks._readers import SHARES

MOST_SECONDS = 20.0
"""Of the processor."""
MOST_WAITING = 300.0
"""By the clock."""
MOST_MB = 1536.0
GOOD = frozenset({"fine", "refused"})


def main(arguments: list[str]) -> int:
    """Run, print the table, and return 1 when anything is wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks fuzz")
    parser.add_argument("--inputs", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first input")
    parser.add_argument("--kind", choices=tuple(SHARES), help="only inputs of this kind")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--show", type=int, help="run this one input and print what came of it")
    parser.add_argument("--keep", type=Path, help="folder for the inputs that went wrong")
    parser.add_argument("--guided", metavar="READER", help="coverage-guided, one reader")
    parser.add_argument("--seconds", type=int, default=60, help="how long --guided runs")
    parser.add_argument("--record", type=Path, help="add what came of each input to this file")
    parser.add_argument("--sum", type=Path, nargs="+", metavar="RECORD", help="only print the table of such files")
    given = parser.parse_args(arguments)
    if given.sum:
        return _sum(given.sum)
    if given.guided:
        from tests.benchmarks._guided import guided

        return guided(given.guided, seconds=given.seconds)
    if given.show is not None:
        return _show(given.show, given.seed, given.keep)
    started = time.perf_counter()
    drawing: list[float] = []
    inputs = [
        index
        for index in range(given.first, given.first + given.inputs)
        if given.kind is None or kind_of(given.seed, index)[0] == given.kind
    ]
    outcomes: list[Outcome] = []
    with contextlib.suppress(KeyboardInterrupt), _record(given.record) as record:  # what is done until Ctrl-C is told
        for outcome in run(inputs, seed=given.seed, drawing=drawing, workers=given.workers):
            outcomes.append(outcome)
            record(outcome)
            if sys.stderr.isatty():
                print(f"\r{len(outcomes)}/{len(inputs)}", end="", file=sys.stderr, flush=True)
    bad = report(outcomes)
    print(f"drawing processes of vector art: peak {drawing[0]:.0f} MB")
    print(f"seed {given.seed}, {time.perf_counter() - started:.0f} s by the clock")
    if given.keep and bad:
        _keep(bad, given.seed, given.keep)
    return 1 if bad else 0


def run(
    inputs: Iterable[int],
    *,
    seed: int,
    drawing: list[float],
    workers: int = 2,
    most_s: float = MOST_SECONDS,
    most_waiting_s: float = MOST_WAITING,
) -> Iterator[Outcome]:
    """Yield what came of each input; a process that hangs or dies is ended and replaced.

    ``most_s`` is time of the processor, ``most_waiting_s`` by the clock. ``drawing`` gets the peak memory in MB of the
    processes that drew vector art.
    """
    waiting = iter(inputs)
    hands = [_Hand(seed) for _ in range(workers)]
    try:
        for hand in hands:
            hand.start()
        while any(hand.busy for hand in hands) or hands[0].open:
            wait([hand.pipe for hand in hands if hand.busy], timeout=0.5)
            for hand in hands:
                yield from hand.step(waiting, most_s, most_waiting_s)
            if not any(hand.busy or hand.open for hand in hands):
                break
    finally:
        for hand in hands:
            hand.stop()
        drawing.append(max(hand.drawing_mb for hand in hands))


def report(outcomes: list[Outcome]) -> list[Outcome]:
    """Print the table; return what went wrong."""
    by_kind: dict[str, list[Outcome]] = defaultdict(list)
    for outcome in outcomes:
        if outcome.verdict in GOOD and outcome.peak_mb > MOST_MB:
            outcome.verdict = "memory"
        if outcome.verdict in GOOD and (outcome.cpu_s > MOST_SECONDS or outcome.seconds > MOST_WAITING):
            outcome.verdict = "hang"
        by_kind[outcome.kind].append(outcome)
    heads = ("inputs", "commands", "read", "refused", "wrong", "cpu s", "worst s", "clock s", "peak MB")
    print(f"{'kind':10}" + "".join(f"{head:>9}" for head in heads))
    for kind in sorted(by_kind):
        _line(kind, by_kind[kind])
    _line("all", outcomes)
    print("cpu s: of the processor in all; worst s: of one input; clock s: of one input by the clock")
    bad = [outcome for outcome in outcomes if outcome.verdict not in GOOD]
    print("wrong: " + (", ".join(f"{n} {what}" for what, n in Counter(o.verdict for o in bad).items()) or "nothing"))
    seen: Counter[str] = Counter()
    for outcome in bad:
        key = f"{outcome.kind} {outcome.verdict} " + " | ".join(outcome.detail.strip().splitlines()[-1:])[:60]
        seen[key] += 1
        if seen[key] == 1:
            print(
                f"--- input {outcome.index}: {outcome.kind}, {outcome.verdict}, {outcome.cpu_s:.1f} s, "
                f"{outcome.peak_mb:.0f} MB\n{outcome.detail.rstrip()}"
            )
    return bad


def _line(name: str, some: list[Outcome]) -> None:
    counts = Counter(outcome.verdict for outcome in some)
    wrong = len(some) - counts["fine"] - counts["refused"]
    counted = (len(some), sum(o.command for o in some), counts["fine"], counts["refused"], wrong)
    took = f"{sum(o.cpu_s for o in some):9.0f}{max(o.cpu_s for o in some):9.2f}{max(o.seconds for o in some):9.1f}"
    worst = f"{took}{max(o.peak_mb for o in some):9.0f}"
    print(f"{name:10}" + "".join(f"{n:9}" for n in counted) + worst)


class _Hand:
    """One worker process and what it is at."""

    def __init__(self, seed: int) -> None:
        self.seed = seed
        self.open, self.busy = True, False
        self.index: int | None = None
        self.kind = ""
        self.since = self.cpu_before = 0.0
        self.root = Path()
        self.drawing_mb = 0.0
        self.process: Any = None
        self.pipe: Any = None

    def start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self._tidy()
        self.root = Path(tempfile.mkdtemp(prefix="sepkit-fuzz-"))
        self.process = context.Process(target=work, args=(theirs, self.seed, self.root), daemon=True)
        self.process.start()
        theirs.close()
        self.index, self.busy, self.since = None, True, time.perf_counter()

    def step(self, waiting: Iterator[int], most_s: float, most_waiting_s: float) -> Iterator[Outcome]:
        """Take what the worker sends, hand it the next input, or end it when its time is up."""
        if not self.busy:
            return
        try:
            if self.pipe.poll():
                message = self.pipe.recv()
                if isinstance(message, str) and self.index is not None:
                    self.kind = message
                    return
                if isinstance(message, Outcome):
                    yield message
                self._next(waiting)
                return
        except (EOFError, ConnectionError):
            self.process.join()
            if self.index is None:
                raise SystemExit(f"a worker did not start (exit {self.process.exitcode})") from None
            yield Outcome(self.index, self.kind, "crash", detail=f"the process ended with {self.process.exitcode}")
            self.start()
            return
        if self.index is None or (waited := time.perf_counter() - self.since) <= most_s:
            return
        used = cpu_seconds(self.process.pid) - self.cpu_before
        if used > most_s or waited > most_waiting_s:
            self.process.kill()
            self.process.join()
            text = f"no answer in {used:.0f} s of the processor, {waited:.0f} s by the clock"
            yield Outcome(self.index, self.kind, "hang", waited, used, detail=f"{text} (--show tells what it ran)")
            self.start()

    def _next(self, waiting: Iterator[int]) -> None:
        self.index = next(waiting, None)
        self.since, self.cpu_before = time.perf_counter(), cpu_seconds(self.process.pid)
        self.pipe.send(self.index)
        if self.index is None:
            self.open = self.busy = False

    def stop(self) -> None:
        if self.process is None:
            return
        if self.busy:
            self.process.kill()
        else:
            self.drawing_mb = float(self.pipe.recv())
        self.process.join(10)
        self._tidy()

    def _tidy(self) -> None:
        if self.root != Path():
            shutil.rmtree(self.root, ignore_errors=True)


def cpu_seconds(pid: int) -> float:
    """Return the processor's time of a process and its children, ended or running, in s; nan without /proc."""
    try:
        fields = (Path("/proc") / str(pid) / "stat").read_text().rpartition(")")[2].split()
        children = (Path("/proc") / str(pid) / "task" / str(pid) / "children").read_text().split()
    except OSError:
        return math.nan  # then the clock alone tells
    own = sum(int(field) for field in fields[11:15]) / os.sysconf("SC_CLK_TCK")
    return own + sum(more for child in children if not math.isnan(more := cpu_seconds(int(child))))


@contextlib.contextmanager
def _record(path: Path | None) -> Iterator[Callable[[Outcome], None]]:
    if path is None:
        yield lambda _outcome: None
        return
    with path.open("a", encoding="utf-8") as file:

        def write(outcome: Outcome) -> None:
            file.write(json.dumps(asdict(outcome)) + "\n")
            file.flush()

        yield write


def _sum(records: list[Path]) -> int:
    """Print the table of recorded inputs; one that was run again counts as it came out last."""
    lines = (line for path in records for line in path.read_text("utf-8").splitlines())
    outcomes = {outcome.index: outcome for line in lines for outcome in [Outcome(**json.loads(line))]}
    return 1 if report(list(outcomes.values())) else 0


def _show(index: int, seed: int, keep: Path | None) -> int:
    keep = keep.resolve() if keep else None
    with tempfile.TemporaryDirectory() as root:
        worker = Worker(seed, Path(root))
        kind, data, _ = worker.data(index)
        if keep:
            keep.mkdir(parents=True, exist_ok=True)
            (keep / f"{index}-{kind}").write_bytes(data)
        print(kind, len(data), data[:300], flush=True)
        print(worker.run(index), flush=True)
        print(worker.run(index, command=True), flush=True)
        os.chdir("/")
    return 0


def _keep(bad: list[Outcome], seed: int, folder: Path) -> None:
    folder = folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as root:
        worker = Worker(seed, Path(root))
        for outcome in bad[:200]:
            kind, data, _ = worker.data(outcome.index)
            (folder / f"{outcome.index}-{kind}-{outcome.verdict}").write_bytes(data)
        os.chdir("/")
