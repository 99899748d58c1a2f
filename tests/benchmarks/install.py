"""What sepkit installs: version, licence and size of each package, time to `--help`; `wheels`: on which systems.

    python -m tests.benchmarks install          # reads the packages of this environment, no network
    python -m tests.benchmarks install wheels   # asks pip for each system and Python: wheels only, lowest and newest

Sizes are the files that each package's RECORD lists, without compiled bytecode. A package that several need is counted
once. Licences are what the packages declare; what their wheels bundle is told in DEVELOPERS.md.
"""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

ROOT = Path(__file__).parents[2]
LOWEST = ROOT / "tests" / "lowest.txt"

SYSTEMS = {
    "Linux x86_64": ["manylinux_2_28_x86_64", "manylinux_2_17_x86_64", "manylinux2014_x86_64"],
    "Linux arm64": ["manylinux_2_28_aarch64", "manylinux_2_17_aarch64", "manylinux2014_aarch64"],
    "macOS 14 arm64": [f"macosx_{major}_0_arm64" for major in (14, 13, 12, 11)],
    "macOS 14 x86_64": [
        *(f"macosx_{major}_0_{kind}" for major in (14, 13, 12, 11) for kind in ("x86_64", "universal2")),
        *(f"macosx_10_{minor}_{kind}" for minor in (15, 13, 12, 10, 9) for kind in ("x86_64", "universal2")),
    ],
    "Windows x86_64": ["win_amd64"],
}
PYTHONS = ("3.11", "3.12", "3.13")


def name_of(requirement: str) -> str:
    """Return the normal form of a requirement's name: ``colour-science>=0.4`` gives ``colour-science``."""
    found = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert found, requirement
    return re.sub(r"[-_.]+", "-", found.group()).lower()


def direct() -> list[str]:
    """Return the requirements of pyproject.toml, without the extras."""
    lines: list[str] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    return lines


def closure() -> Iterator[tuple[str, str, Distribution]]:
    """Yield (name, who needs it, distribution) of all that sepkit's dependencies bring with them here."""
    waiting = [(name_of(line), "sepkit") for line in direct()]
    seen: set[str] = set()
    while waiting:
        name, by = waiting.pop(0)
        if name in seen:
            continue
        seen.add(name)
        try:
            package = distribution(name)
        except PackageNotFoundError:
            continue  # behind a marker of another system
        yield name, by, package
        # Extras are not asked for; other markers are for other systems, where the package is then missing here.
        needs = [line for line in package.requires or () if "extra ==" not in line]
        waiting += [(name_of(line), name) for line in needs]


def licence_of(package: Distribution) -> str:
    """Return the licence a package declares, in one line."""
    declared = package.metadata.get("License-Expression") or package.metadata.get("License") or ""
    classes = [c.rsplit("::", 1)[-1].strip() for c in package.metadata.get_all("Classifier") or () if "License" in c]
    first = declared.strip().splitlines()[0] if declared.strip() else ""
    if not first or len(first) > 60 or first.startswith(("Copyright", "Files:")):
        first = ", ".join(classes)
    if not first:
        for file in package.files or ():
            if "licen" in file.name.lower() and Path(str(file.locate())).is_file():
                text = " ".join(file.read_text().split())
                first = "MIT" if "Permission is hereby granted, free of charge" in text else text[:40]
                break
    return first.replace("Copyright", "see its file: Copyright")


def size_mb(package: Distribution) -> float:
    """Return the size of a package's files in MB."""
    paths = [Path(str(file.locate())) for file in package.files or () if file.suffix != ".pyc"]
    return sum(path.stat().st_size for path in paths if path.is_file()) / 1e6


def seconds(*command: str, runs: int = 7) -> float:
    """Return the median wall time of a command after one run to warm up."""
    taken = []
    for _ in range(runs + 1):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken[1:])


def report() -> None:
    """Print the packages and the time of ``sepkit --help`` against that of a bare Python."""
    floors = {name_of(line): line for line in direct()}
    total = 0.0
    print(f"{'package':18} {'version':12} {'floor':12} {'MB':>6}  {'needed by':16} licence")
    for name, by, package in closure():
        size = size_mb(package)
        total += size
        floor = floors.get(name, "").partition(">=")[2] or "-"
        print(f"{name:18} {package.version:12} {floor:12} {size:6.1f}  {by:16} {licence_of(package)}")
    own = sum(
        f.stat().st_size
        for folder in ("sepkit", "recipes", "sample_art")
        for f in (ROOT / folder).rglob("*")
        if f.is_file() and f.suffix != ".pyc"
    )
    print(f"{'sepkit itself':18} {'':12} {'':12} {own / 1e6:6.1f}\n{'all':44} {total + own / 1e6:6.1f} MB")
    bare, usage = seconds(sys.executable, "-c", "pass"), seconds(sys.executable, "-m", "sepkit", "--help")
    print(f"sepkit --help {usage * 1000:.0f} ms; python -c pass {bare * 1000:.0f} ms")


def wheels() -> bool:
    """Print for each system and Python whether pip finds wheels of all, as newest and as lowest releases."""
    whole = True
    # The lowest are pinned for the lowest Python; newer ones need newer releases of some packages.
    tries = [(python, None) for python in PYTHONS] + [(PYTHONS[0], LOWEST)]
    for system, tags in SYSTEMS.items():
        for python, constraints in tries:
            with tempfile.TemporaryDirectory() as folder:
                command = [sys.executable, "-m", "pip", "install", "--dry-run", "--ignore-installed", "--quiet"]
                command += ["--only-binary", ":all:", "--target", folder, "--python-version", python]
                command += [part for tag in tags for part in ("--platform", tag)]
                command += ["-c", str(constraints)] if constraints else []
                done = subprocess.run([*command, *direct()], capture_output=True, text=True, check=False)
            whole &= done.returncode == 0
            errors = [line for line in done.stderr.splitlines() if line.startswith("ERROR")]
            kind = "lowest" if constraints else "newest"
            print(f"{system:16} {python:5} {kind:7} {'all wheels' if not done.returncode else errors[-1:]}", flush=True)
    return whole


def main(args: list[str]) -> None:
    """Run ``install`` or ``install wheels``."""
    if args == ["wheels"]:
        sys.exit(0 if wheels() else 1)
    report()
