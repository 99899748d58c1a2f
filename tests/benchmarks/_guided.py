"""The fuzz run led by coverage, for the parsers that are our own: atheris keeps the changes that reach new code.

In: a reader's name and seconds. Out: what atheris prints, and a file crash-* in the working folder when anything but a
refusal comes out. atheris is no dependency: `pip install atheris`.
"""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

READERS = {
    "svg": ".svg",
    "job": ".toml",
    "ink": ".toml",
    "orders": ".csv",
    "wedge": ".csv",
    "colours": ".csv",
    "cxf": ".cxf",
}


def guided(name: str, *, seconds: int) -> int:
    """Run atheris over one reader in a process of its own; return its exit code."""
    if name not in READERS:
        print(f'no reader "{name}": one of {", ".join(READERS)}')
        return 2
    if importlib.util.find_spec("atheris") is None:
        print("atheris is not installed: pip install atheris (Linux and macOS; no part of sepkit needs it)")
        return 2
    from tests.benchmarks._seeds import seeds

    with tempfile.TemporaryDirectory() as corpus:
        for number, data in enumerate(seeds()[name]):
            (Path(corpus) / str(number)).write_bytes(data)
        words = [
            sys.executable,
            "-m",
            "tests.benchmarks._guided",
            name,
            corpus,
            f"-max_total_time={seconds}",
            "-timeout=20",
            "-rss_limit_mb=1536",
            "-max_len=60000",
            "-print_final_stats=1",
        ]
        return subprocess.run(words, check=False).returncode


def _call(name: str, folder: Path) -> Callable[[bytes], None]:
    """Return what reads bytes with one of our own parsers."""
    from sepkit.errors import SepkitError
    from sepkit.files import wedge_csv
    from sepkit.files.art import svg_guard
    from sepkit.files.jobfile import jobfile, orders
    from sepkit.files.shelf import colours, inks
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.workshop.drop.load import NAMES

    path, shelf = folder / f"input{READERS[name]}", Shelf()
    by_file: dict[str, Callable[[Path], object]] = {
        "job": lambda p: jobfile.read_job(p, names=NAMES, shelf=shelf),
        "ink": inks.read_ink_file,
        "orders": orders.read_orders,
        "wedge": wedge_csv.read_wedge,
        "colours": colours.read_colours,
        "cxf": colours.read_colours,
        "svg": lambda p: svg_guard.examine(p.read_bytes(), p.name),
    }

    def one(data: bytes) -> None:
        path.write_bytes(data)
        try:
            by_file[name](path)
        except SepkitError as error:
            if not str(error).isprintable():
                raise AssertionError(f"not one plain line: {str(error)!r}") from error

    return one


def _main() -> None:
    import atheris

    name = sys.argv.pop(1)
    folder = tempfile.mkdtemp(prefix="sepkit-guided-")
    with atheris.instrument_imports(include=["sepkit.files", "sepkit.units"]):
        one = _call(name, Path(folder))
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()


if __name__ == "__main__":
    _main()
