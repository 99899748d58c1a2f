"""Outputs of this checkout beside those of another one, file by file: what is the same bit for bit, what differs.

    python -m tests.benchmarks same OTHER_CHECKOUT [--only WORD] [--planes] [--within MINUTES] [--keep FOLDER]

Runs commands in both checkouts, each with its own code and recipes, and compares every file and what was printed, a row
for each command as soon as it is known. A JSON record that differs is told key by key, a picture by how many pixels
differ and by how much. ``--planes``: only what is burned is compared, films and planes. What was not begun within the
time is told as not run; ``--keep`` holds the runs of the other checkout, which need no second run, so that a comparison
can go on where it stood.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).parents[2]
ART = {
    "regatta-badge.png": "270mm",
    "harbour-flat.png": "260mm",
    "lantern-glow.png": "120mm",
    "oar-small.jpg": "140mm",
    "lantern-lines.svg": "200mm",
    "neck-label.svg": "60mm",
}
GARMENTS = ("black tee", "white tee", "black hoodie", "#b01e28", "ash heather tee")
MOST_KEYS = 12


@dataclass(frozen=True)
class Command:
    """One run: a name for its folder, and the words after ``sepkit``; @ART/ stands for the sample art."""

    name: str
    words: tuple[str, ...]


def _separations() -> Iterator[Command]:
    for art, width in ART.items():
        for garment in GARMENTS:
            name = f"{art.split('.')[0]}-{garment.strip('#').replace(' ', '-')}"
            yield Command(name, ("separate", f"@ART/{art}", "--on", garment, "--width", width, "-o", "made"))
    base = ("separate", "@ART/harbour-flat.png", "--on", "black tee", "--width", "260mm", "-o", "made")
    options = {
        "highlight": ("--highlight",),
        "two-whites": ("--white-screens", "two"),
        "light-base": ("--light-base",),
        "overprint": ("--overprint-colours",),
        "explain": ("--explain", "--inks", "3"),
        "no-trap": ("--trap", "0mm"),
        "sizes": ("--sizes", "S,3XL", "--placement", "back"),
        "never": ("--base", "never"),
        "two-garments": ("--on", "white tee"),
        "named": ("--inks", "red,white,#203060"),
        "blue-noise": ("--shape", "blue-noise", "--mesh", "77-55", "--choke", "0.3mm"),
    }
    for name, more in options.items():
        yield Command(f"option-{name}", (*base, *more))


def _others() -> Iterator[Command]:
    for art, width in ART.items():
        yield Command(f"check-{art.split('.')[0]}", ("check", f"@ART/{art}", "--width", width, "-o", "made.png"))
        yield Command(
            f"check-json-{art.split('.')[0]}",
            ("check", f"@ART/{art}", "--width", width, "--on", "black tee", "-o", "made.png", "--json"),
        )
    for job in ("starter", "rowing-club", "lantern-festival", "classroom"):
        yield Command(f"job-{job}", ("job", f"@JOBS/{job}.toml", "-o", "made", "--anyway"))
    screens = ("--screen", "400x500mm", "--screen", "large=533x737mm:55-64:2")
    prints = ("--print", "chest=90x80mm:white", "--print", "label=60x50mm:white", "--print", "back=280x320mm")
    yield Command("gang", ("gang", *screens, *prints, "-o", "made"))
    yield Command("wedge", ("wedge", "-o", "made.pdf"))
    for words in (
        ("match", "#2a6f5b"),
        ("match", "#101014"),
        ("match", "lab(52 40 20)"),
        ("tint", "white:95", "black:5"),
        ("label", "--on", "white tee"),
        ("list",),
        ("show", "red"),
        ("contaminate", "white", "black"),
    ):
        yield Command(f"ink-{'-'.join(w.strip('#') for w in words)}"[:40], ("ink", *words))
    for words in (("garments",), ("meshes",), ("presses",)):
        yield Command(f"shelf-{words[0]}", ("shelf", *words))
    yield Command("job-explain", ("job", "--explain"))


def main(args: list[str]) -> None:
    """Run both, and print what differs."""
    parser = argparse.ArgumentParser(prog="same")
    parser.add_argument("other", type=Path)
    parser.add_argument("--only", default="")
    parser.add_argument("--planes", action="store_true", help="films and planes alone")
    parser.add_argument("--within", type=float, default=10.0, metavar="MINUTES", help="begin nothing after this")
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args(args)
    commands = [one for one in (*_separations(), *_others()) if asked.only in one.name]
    ends = time.monotonic() + 60 * asked.within
    same, compared = 0, 0
    with tempfile.TemporaryDirectory() as folder:
        old, new = (asked.keep or Path(folder) / "old").resolve(), Path(folder) / "new"

        def compare(one: Command) -> list[str] | None:
            return None if time.monotonic() > ends else _compared(one, asked.other.resolve(), old, new, asked.planes)

        with ThreadPoolExecutor(max(1, (os.cpu_count() or 2) // 2)) as pool:
            for one, lines in zip(commands, pool.map(compare, commands), strict=True):
                said = "not run" if lines is None else "same" if not lines else "\n    " + "\n    ".join(lines)
                print(f"{one.name:<40}{said}", flush=True)
                compared += lines is not None
                same += lines == []
    print(f"{same} of {compared} runs are the same bit for bit; {len(commands) - compared} were not run")


BURNED = re.compile(r"(^|/)(films|plates)/|(^|/)(films|spot)\.pdf$")
"""Files that screens are made of."""


def _compared(command: Command, other: Path, old: Path, new: Path, planes: bool) -> list[str]:
    """Run a command in both checkouts; return what differs. ``planes``: of films and planes alone."""
    if not (old / command.name / "stdout").exists():
        _run(command, other, old / command.name)
    _run(command, HERE, new / command.name)
    lines = list(_differences(old / command.name, new / command.name, only=BURNED if planes else None))
    shutil.rmtree(new / command.name)
    return lines


def _run(command: Command, checkout: Path, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    places = {"@ART": str(checkout / "sample_art"), "@JOBS": str(checkout / "recipes" / "jobs")}
    words = list(command.words)
    for sign, place in places.items():
        words = [word.replace(sign, place) for word in words]
    env = {k: v for k, v in os.environ.items() if k != "SEPKIT_RECIPES"} | {"PYTHONPATH": str(checkout)}
    done = subprocess.run([sys.executable, "-m", "sepkit", *words], cwd=folder, env=env, capture_output=True, text=True)
    said = f"exit {done.returncode}\n{done.stdout}\n--\n{done.stderr}"
    (folder / "stdout").write_text(said.replace(str(checkout), "CHECKOUT").replace(str(folder), "FOLDER"))


def _differences(old: Path, new: Path, only: re.Pattern[str] | None) -> Iterator[str]:
    names = {str(p.relative_to(top)) for top in (old, new) for p in top.rglob("*") if p.is_file()}
    for name in sorted(name for name in names if only is None or only.search(name)):
        a, b = old / name, new / name
        if not (a.exists() and b.exists()):
            yield f"{name}: only {'before' if a.exists() else 'now'}"
        elif a.read_bytes() != b.read_bytes():
            yield from _how(name, a, b)


def _how(name: str, a: Path, b: Path) -> Iterator[str]:
    if name.endswith(".json"):
        told = list(_keys("", json.loads(a.read_text()), json.loads(b.read_text())))
        new = sorted({re.sub(r"\[\d+\]", "[]", line.removesuffix(" new")) for line in told if line.endswith(" new")})
        found = [line for line in told if not line.endswith(" new")]
        if new:
            yield f"{name}: new keys {' '.join(new)}"
        yield from (f"{name}: {line}" for line in found[:MOST_KEYS])
        if len(found) > MOST_KEYS:
            yield f"{name}: and {len(found) - MOST_KEYS} more"
    elif name.endswith(".png"):
        yield f"{name}: {_pixels(a, b)}"
    elif name == "stdout" or name.endswith((".html", ".csv", ".toml", ".txt")):
        lines = [p.read_text(errors="replace").splitlines() for p in (a, b)]
        gone = [line for line in lines[0] if line not in lines[1]]
        come = [line for line in lines[1] if line not in lines[0]]
        yield f"{name}: {len(gone)} lines gone, {len(come)} new"
        yield from (f"  - {line.strip()[:160]}" for line in gone[:MOST_KEYS])
        yield from (f"  + {line.strip()[:160]}" for line in come[:MOST_KEYS])
    else:
        yield f"{name}: {a.stat().st_size} and {b.stat().st_size} bytes"


_PASSING = re.compile(r"\.files\..*\[[01]\]$|\.digest$")
"""Sizes and times of files, and digests of code and shelf, in the record of a job."""


def _keys(where: str, a: Any, b: Any) -> Iterator[str]:
    if _PASSING.search(where):
        return
    if isinstance(a, dict) and isinstance(b, dict):
        for key in a.keys() | b.keys():
            if key not in a or key not in b:
                yield f"{where}.{key} {'gone' if key in a else 'new'}"
            else:
                yield from _keys(f"{where}.{key}", a[key], b[key])
    elif isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        for at, (one, other) in enumerate(zip(a, b, strict=True)):
            yield from _keys(f"{where}[{at}]", one, other)
    elif a != b:
        yield f"{where}: {str(a)[:150]} -> {str(b)[:150]}"


def _pixels(a: Path, b: Path) -> str:
    import numpy as np
    from PIL import Image

    one, other = (np.asarray(Image.open(p).convert("RGB"), np.int16) for p in (a, b))
    if one.shape != other.shape:
        return f"{one.shape} and {other.shape}"
    apart = np.abs(one - other).max(axis=2)
    return f"{(apart > 0).sum()} of {apart.size} pixels differ, at most by {apart.max()}"
