"""One print from art to folder, stage by stage, beside a quantiser and the floor of the work; and deciding it again.

    python -m tests.benchmarks job                      # every input, every table; some minutes
    python -m tests.benchmarks job --only clean         # one: clean, white, check, soft, badge, gradient, scan, jpeg
    python -m tests.benchmarks job --only again         # re-deciding on 4 and on 28.8 million pixels
    python -m tests.benchmarks job --only again-4       # on 4 million only
    python -m tests.benchmarks job --only growth        # how work grows from 7 to 115 million pixels
    python -m tests.benchmarks job --only help          # the start of --help beside an empty Python

Each run is a process of its own, of compiled modules as an installed package has them.
Processor seconds count all processes of a run; on a machine that does other work they
say more than seconds do. Stages run beside each other (films), so their seconds may sum to more than the whole's.
The yardstick is Pillow's fast octree: the same file decoded and quantised. The floor is what any program would do:
read the art, look once at each pixel, write these films.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import sepkit
from tests.benchmarks._job_art import INPUTS, Input, sheet

GROWTH = ("quarter", "clean", "large")
AGAIN = {"again-4": (1800, 2250, 152.4), "again-28": (4800, 6000, 406.4)}


@dataclass(frozen=True, slots=True)
class Ran:
    """Seconds, processor seconds and peak memory of a process with its own."""

    seconds: float
    processor_s: float
    peak_mib: float
    said: str


def main(args: list[str]) -> None:
    """Print the tables."""
    if args[:1] == ["draw"]:
        INPUTS[args[1]].draw(Path(args[2]))
        return
    if args[:1] == ["draw-sheet"]:
        sheet(int(args[1]), int(args[2]))(Path(args[3]))
        return
    names = [*(name for name in INPUTS if name not in ("quarter", "large")), *AGAIN, "growth", "help"]
    parser = argparse.ArgumentParser(prog="job")
    parser.add_argument("--only", choices=[*names, "again"], help="one input or table")
    only = parser.parse_args(args).only
    with tempfile.TemporaryDirectory() as folder:
        _compiled()
        for name in names:
            if only is None or name == only or (only == "again" and name in AGAIN):
                _show(name, Path(folder))


def _compiled() -> None:
    """Let all runs find compiled modules, though this process may not have written them."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    for folder in (Path(sepkit.__file__).parent, Path(__file__).parent):
        _run([sys.executable, "-m", "compileall", "-q", str(folder)])


def _show(name: str, folder: Path) -> None:
    if name in AGAIN:
        _again(name, folder)
    elif name == "growth":
        _growth(folder)
    elif name == "help":
        _help()
    else:
        _stages(name, INPUTS[name], folder)


def _stages(name: str, one: Input, folder: Path) -> None:
    """Print the table of one input."""
    art = _drawn(name, folder)
    octree = _run([sys.executable, "-c", _OCTREE, str(art)])
    out = folder / f"{name}-made"
    told = _staged(one, art, out)
    print(f"\n{name}: {one.words}, sepkit {one.command}")
    print(f"{'stage':<10}{'s':>8}{'proc. s':>9}{'MiB':>7}")
    for stage, cost in told["stages"].items():
        if cost["processor_s"] >= 0.005 or cost["seconds"] >= 0.005:
            peak = told["workers_peak_mib"] if stage == "films" else cost["peak_mib"]
            print(f"{stage:<10}{cost['seconds']:>8.2f}{cost['processor_s']:>9.2f}" + (f"{peak:>7.0f}" if peak else ""))
    whole = told["whole"]
    print(f"{'whole':<10}{whole['seconds']:>8.2f}{whole['processor_s']:>9.2f}{whole['peak_mib']:>7.0f}")
    planned = [told["stages"][stage] for stage in ("read", "palette", "edges", "tones", "choose", "decide")]
    plan_s, plan_processor_s = (sum(cost[key] for cost in planned) for key in ("seconds", "processor_s"))
    lines = [
        ("fast octree", octree.seconds, octree.processor_s),
        ("plates decided", plan_s, plan_processor_s),
    ]
    if one.command == "separate":
        floor = _run([sys.executable, "-m", "tests.benchmarks._stages", "floor", str(art), str(out), str(one.width_mm)])
        lines.append(("floor of the work", floor.seconds, floor.processor_s))
    for words, seconds, processor_s in lines:
        print(f"{words:<18}{seconds:>6.2f} s {processor_s:>6.2f} proc. s", end="")
        if words == "plates decided":
            print(f"; {seconds / octree.seconds:.1f} and {processor_s / octree.processor_s:.1f} x fast octree")
        else:
            print(
                f"; the whole is {whole['seconds'] / seconds:.1f} and {whole['processor_s'] / processor_s:.1f} x that"
            )


def _staged(one: Input, art: Path, out: Path) -> dict[str, Any]:
    report = out.with_suffix(".json")
    target = out if one.command == "separate" else out.with_suffix(".png")
    words = [one.command, str(art), "--on", one.garment, "--width", f"{one.width_mm}mm", "-o", str(target)]
    if one.command == "separate":
        words.append("--quiet")
    _run([sys.executable, "-m", "tests.benchmarks._stages", str(report), *words], may_fail=one.command == "check")
    told: dict[str, Any] = json.loads(report.read_text())
    return told


def _again(name: str, folder: Path) -> None:
    """Print the table of re-decisions on one size."""
    across, down, width_mm = AGAIN[name]
    art = folder / f"{name}.png"
    # In a process of its own: a child's peak starts from the size of the process that started it.
    _run([sys.executable, "-m", "tests.benchmarks", "job", "draw-sheet", str(across), str(down), str(art)])
    ran = _run([sys.executable, "-m", "tests.benchmarks._again", str(art), "#1a1a1c", str(width_mm)])
    told = json.loads(ran.said)
    print(f"\n{name}: {told['megapixels']:.1f} Mpx, {told['areas']} areas in hand, peak {told['peak_mib']:.0f} MiB")
    print(f"{'what changed':<26}{'decide s':>9}{'proc. s':>9}{'planned s':>11}{'proc. s':>9}")
    for row in told["changes"]:
        more = "".join(f"{v:>{w}.2f}" for v, w in zip(row.get("planned", ()), (11, 9), strict=False))
        print(f"{row['change']:<26}{row['decide'][0]:>9.2f}{row['decide'][1]:>9.2f}{more}")


def _growth(folder: Path) -> None:
    """Print how the same art costs more with more pixels: exponents of processor time to pixels."""
    print("\ngrowth: the clean sheet at three sizes")
    points = []
    for name in GROWTH:
        art = _drawn(name, folder)
        told = _staged(INPUTS[name], art, folder / f"{name}-grown")
        across, down = {"quarter": (2400, 3000), "clean": (4800, 6000), "large": (9600, 12000)}[name]
        points.append((across * down, told["whole"]["processor_s"], told["whole"]["peak_mib"]))
        print(f"{across * down / 1e6:>6.1f} Mpx {points[-1][1]:>7.2f} proc. s, peak {points[-1][2]:.0f} MiB")
    for (few, less, _), (many, more, _) in pairwise(points):
        power = math.log(more / less) / math.log(many / few)
        print(f"{few / 1e6:.0f} to {many / 1e6:.0f} Mpx: pixels to the power {power:.2f}, edge pixels {2 * power:.2f}")


def _help() -> None:
    help_s = statistics.median(_run([sys.executable, "-m", "sepkit", "--help"]).seconds for _ in range(9))
    bare_s = statistics.median(_run([sys.executable, "-c", "pass"]).seconds for _ in range(9))
    print(f"\nsepkit --help: {1000 * help_s:.0f} ms, an empty Python {1000 * bare_s:.0f} ms")


_OCTREE = """
import sys
from PIL import Image
Image.MAX_IMAGE_PIXELS = None
Image.open(sys.argv[1]).convert("RGBA").quantize(5, method=Image.Quantize.FASTOCTREE)
"""


def _drawn(name: str, folder: Path) -> Path:
    """Return the file of an input, drawn in a process of its own unless it is there."""
    path = folder / f"{name}{INPUTS[name].suffix}"
    if not path.exists():
        _run([sys.executable, "-m", "tests.benchmarks", "job", "draw", name, str(path)])
    return path


def _run(words: list[str], *, may_fail: bool = False) -> Ran:
    """Return what a process took, with what it started."""
    started = time.perf_counter()
    child = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    said = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode and not may_fail:
        raise SystemExit(f"{words} ended with {child.returncode}")
    seconds = time.perf_counter() - started
    return Ran(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, said)
