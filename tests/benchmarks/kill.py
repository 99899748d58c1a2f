"""Runs stopped at random moments, starved of disk and doubled: what stands is the old output or the new, whole.

    python -m tests.benchmarks kill [--moments 50] [--seed 1] [--only separate,films,job]

Ctrl-C and SIGKILL at that many moments each of `sepkit separate --force`, `sepkit films` and `sepkit job` into a folder
that exists; after each the same command must work and leave nothing of the stopped run. Then a full disk (files that
may not grow; as administrator on Linux also a small disk of its own, and a read-only one) and two runs at once.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks._faults import COMMANDS, Scene, Verdict

FILE_SIZES = (0, 1_000, 5_000, 20_000, 60_000)


def main(arguments: list[str]) -> int:
    """Run and print; 1 when anything is wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks kill")
    parser.add_argument("--moments", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default=",".join(COMMANDS))
    given = parser.parse_args(arguments)
    wrong = 0
    for command in given.only.split(","):
        rng = random.Random(f"{given.seed}:{command}")
        with tempfile.TemporaryDirectory() as folder:
            scene = Scene(Path(folder) / "scene", command)
            print(f"sepkit {command}: {scene.seconds:.1f} s undisturbed", flush=True)
            for sign in (signal.SIGINT, signal.SIGKILL):
                wrong += _told(sign.name, [scene.disturbed(rng, sign) for _ in range(given.moments)])
            wrong += _told("full disk", [scene.starved(size) for size in FILE_SIZES])
            wrong += _told("two at once", [scene.doubled() for _ in range(3)])
        with _own_disk() as disk:
            if disk is not None:
                wrong += _told("small and read-only disk", _on_disk(Scene(disk / "scene", command), disk))
    print("wrong: " + (str(wrong) if wrong else "nothing"))
    return 1 if wrong else 0


def _told(name: str, verdicts: list[Verdict]) -> int:
    stands = Counter(verdict.stands for verdict in verdicts)
    bad = [verdict for verdict in verdicts if verdict.wrong]
    print(
        f"  {name:26} {len(verdicts):4} runs: old {stands['old']}, new {stands['new']}, "
        f"wrong {len(bad)}; {sum(verdict.hit for verdict in verdicts)} met at work",
        flush=True,
    )
    for verdict in bad[:5]:
        print(f"    {verdict.what}: {verdict.stands}, exit {verdict.code}: {'; '.join(verdict.wrong)}", flush=True)
    return len(bad)


def _on_disk(scene: Scene, disk: Path) -> list[Verdict]:
    """Fill the disk up to several amounts of room, then make it read-only."""
    verdicts = []
    for room in (0, 20_000, 100_000, 300_000):
        scene.restore()
        free = shutil.disk_usage(disk).free
        (disk / "ballast").write_bytes(bytes(max(free - room, 0)))
        run = scene.run(scene.words)
        verdict = scene.judged(f"{room} bytes free", run.returncode)
        if run.returncode not in (0, 7) or (run.returncode and len(run.stderr.strip().splitlines()) != 1):
            verdict.wrong.append(f"exit {run.returncode}: {run.stderr.strip()[-300:]}")
        (disk / "ballast").unlink()
        verdicts.append(verdict)
    scene.restore()
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    run = scene.run(scene.words)
    verdict = scene.judged("read-only", run.returncode)
    if run.returncode != 7 or verdict.stands != "old":
        verdict.wrong.append(f"exit {run.returncode}: {run.stderr.strip()[-300:]}")
    subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
    return [*verdicts, verdict]


@contextlib.contextmanager
def _own_disk() -> Iterator[Path | None]:
    """Yield a disk of 24 MB in memory where this process may mount one, else None."""
    if sys.platform != "linux" or os.geteuid() != 0 or not shutil.which("mount"):
        print("  (no disk of its own without the right to mount one)")
        yield None
        return
    with tempfile.TemporaryDirectory() as folder:
        made = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", folder], check=False, capture_output=True
        )
        if made.returncode:
            print("  (no disk of its own: mount refused)")
            yield None
            return
        try:
            yield Path(folder)
        finally:
            subprocess.run(["umount", folder], check=True)
