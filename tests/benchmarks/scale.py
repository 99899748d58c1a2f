"""Memory and time as sheets, film resolution and inks grow: memory should stay flat, time grow with the film's pixels.

    python -m tests.benchmarks scale [--only films,separate,remake] [--series sheet,dpi,inks] [--quick] [--plot FILE]
    python -m tests.benchmarks scale --only films --series far       # 1.2 x 1.6 m up to 2880 dpi, and up to 12 inks

Each line is a run of its own; its memory is the most that it and its workers hold at once (Linux). `films` is the film
path alone (halftoned plates of the same 5 Mpx stretched over the sheet); `separate` and `remake` are the whole commands
`sepkit separate` and `sepkit films` on art of the same pixels. Under each series stands the straight line through its
times, and how far the times are from it; several inks are made by two processes, one ink by one. --plot draws all.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ART_PX = (1500, 2000)
PLATE_PX = (2000, 2667)
SHEETS = {"A4": (210.0, 297.0), "A3": (297.0, 420.0), "50 x 70 cm": (500.0, 700.0), "1.2 x 1.6 m": (1200.0, 1600.0)}
DPIS = (360, 720, 1440, 2880)
INKS = (1, 2, 4, 8, 12)
ROOT = Path(__file__).resolve().parents[2]
COLOURS = (
    "#d63c2c",
    "#f4c95d",
    "#2f9e94",
    "#17304f",
    "#8a4fae",
    "#e58a2e",
    "#5aa1d8",
    "#7c5030",
    "#b5c94c",
    "#e7a5b8",
    "#3c6e3f",
    "#f4f4f2",
)


@dataclass(frozen=True, slots=True)
class Point:
    """One measured process."""

    way: str
    series: str
    label: str
    film_mpx: float
    seconds: float
    peak_mb: float


def main(arguments: list[str]) -> None:
    """Measure and print; draw when asked."""
    if arguments[:1] == ["work"]:
        _films(Path(arguments[1]), *(float(word) for word in arguments[2:5]), inks=int(arguments[5]))
        return
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks scale")
    parser.add_argument("--only", default="films,separate,remake")
    parser.add_argument("--series", default="sheet,dpi,inks")
    parser.add_argument("--quick", action="store_true", help="leave out the largest of each series")
    parser.add_argument("--plot", type=Path)
    given = parser.parse_args(arguments)
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cpus")
    print(f"{'way':9} {'series':7} {'at':12} {'film Mpx':>9} {'s':>7} {'s/100 Mpx':>9} {'peak MB':>8}")
    points = []
    for way in given.only.split(","):
        for series, cases in _cases(quick=given.quick).items():
            if series in given.series.split(","):
                points += [_told(way, series, *case) for case in cases]
    _summary(points)
    if given.plot:
        _plot(points, given.plot)


def _cases(*, quick: bool) -> dict[str, list[tuple[str, float, float, float, int]]]:
    """Return series -> (label, width mm, height mm, dpi, inks); one thing grows at a time."""
    end = -1 if quick else None
    return {
        "sheet": [(name, *size, 720.0, 1) for name, size in list(SHEETS.items())[:end]],
        "dpi": [(f"{dpi} dpi", *SHEETS["A4"], float(dpi), 1) for dpi in DPIS[:end]],
        "inks": [(f"{n} inks", *SHEETS["A4"], 720.0, n) for n in INKS[:end]],
        "far": [
            (f"{dpi} dpi x {n}", *SHEETS["1.2 x 1.6 m"], float(dpi), n)
            for dpi, n in ((360, 1), (720, 1), (1440, 1), (2880, 1), (720, 12), (2880, 12))[:end]
        ],
    }


def _told(way: str, series: str, label: str, width_mm: float, height_mm: float, dpi: float, inks: int) -> Point:
    mpx = width_mm * height_mm * (dpi / 25.4) ** 2 * inks / 1e6
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if way == "films":
            given = [str(v) for v in (folder, width_mm, height_mm, dpi, inks)]
            words = ["-m", "tests.benchmarks", "scale", "work", *given]
        else:
            _draw(folder / "art.png", inks)
            words = [
                "-m",
                "sepkit",
                "separate",
                str(folder / "art.png"),
                "--on",
                "black tee",
                "--width",
                f"{width_mm}mm",
                "--film-dpi",
                f"{dpi:g}",
                "--inks",
                ",".join(COLOURS[:inks]),
                "--base",
                "never",
                "--no-ladder",
                "-o",
                str(folder / "out"),
                "--quiet",
            ]
            if way == "remake":
                _run(words)
                words = ["-m", "sepkit", "films", str(folder / "out"), "--quiet"]
        seconds, peak = _run(words)
    print(f"{way:9} {series:7} {label:12} {mpx:9.0f} {seconds:7.1f} {100 * seconds / mpx:9.2f} {peak:8.0f}")
    sys.stdout.flush()
    return Point(way, series, label, mpx, seconds, peak)


def _summary(points: list[Point]) -> None:
    """Tell how much memory grows over each series beside the film's pixels."""
    for way, series in dict.fromkeys((p.way, p.series) for p in points):
        some = [p for p in points if (p.way, p.series) == (way, series)]
        first, last = some[0], some[-1]
        print(
            f"{way}, {series}: film pixels x {last.film_mpx / first.film_mpx:.0f}, memory x "
            f"{last.peak_mb / first.peak_mb:.2f}, time x {last.seconds / first.seconds:.1f}"
        )
        print(f"    {_line(some)}")


def _line(points: list[Point]) -> str:
    """Return the straight line through the times of points, and how far the farthest is from it."""
    mpx, seconds = np.array([p.film_mpx for p in points]), np.array([p.seconds for p in points])
    slope, start = np.polyfit(mpx, seconds, 1) if len(points) > 1 else (0.0, seconds[0])
    off = np.abs(start + slope * mpx - seconds).max()
    return f"{start:.1f} s + {100 * slope:.2f} s per 100 Mpx, within {off:.1f} s"


def _films(folder: Path, width_mm: float, height_mm: float, dpi: float, *, inks: int) -> None:
    from PIL import Image

    from sepkit.files.films.film_set import FilmJob, write_film_set
    from sepkit.film.marks import FilmLabel
    from sepkit.film.rows import FilmSettings
    from sepkit.model import Halftone

    across, down = PLATE_PX
    wave, plane = np.sin(np.arange(across) / 180), np.empty((down, across), np.uint8)
    for y in range(down):
        plane[y] = 127.5 + 127.5 * wave * np.cos(y / 240)
    for name, values in (("plate", plane), ("tone", np.full_like(plane, 255))):
        Image.fromarray(values).save(folder / f"{name}.png", compress_level=1)
    del plane, values
    jobs = [
        FilmJob(
            f"{n:02d}-ink",
            folder / "plate.png",
            folder / "tone.png",
            Halftone(45, 15 + 30 * n, "ellipse"),
            width_mm,
            height_mm,
            FilmSettings(dpi=dpi),
            FilmLabel(f"ink {n}", f"ink {n}", n, inks),
        )
        for n in range(1, inks + 1)
    ]
    write_film_set(folder, jobs, title="scale")


def _draw(path: Path, inks: int) -> None:
    """Draw discs and bars in so many colours on transparency."""
    from PIL import Image, ImageDraw

    across, down = ART_PX
    rng = np.random.default_rng(3)
    image = Image.new("RGBA", (across * 2, down * 2), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    for k in range(60):
        x, y = rng.integers(0, across * 2), rng.integers(0, down * 2)
        r = int(rng.integers(60, 500))
        shape = draw.ellipse if k % 2 else draw.rectangle
        shape((x - r, y - r, x + r, y + r), fill=COLOURS[k % inks])
    image.reduce(2).save(path, compress_level=1)


def _run(words: list[str]) -> tuple[float, float]:
    """Return the seconds that a command takes, and the most memory that it and its workers hold at once."""
    started = time.perf_counter()
    with tempfile.TemporaryFile("w+") as told:
        run = subprocess.Popen(
            [sys.executable, *words], stdout=subprocess.DEVNULL, stderr=told, cwd=ROOT, start_new_session=True
        )
        peak = 0.0
        while run.poll() is None:
            peak = max(peak, _held_mb(run.pid))
            time.sleep(0.02)
        if run.returncode:
            told.seek(0)
            raise SystemExit(f"{words} ended with {run.returncode}: {told.read()[-500:]}")
    return time.perf_counter() - started, peak


def _held_mb(session: int) -> float:
    """Return the resident memory of all processes of a session, from /proc (Linux)."""
    held = 0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text().rpartition(")")[2].split()
                held += int((entry / "statm").read_text().split()[1]) if int(stat[3]) == session else 0
            except (OSError, ValueError, IndexError):
                continue
    return held * os.sysconf("SC_PAGE_SIZE") / 1e6


def _plot(points: list[Point], path: Path) -> None:
    """Draw memory above and time below, one column a series, one line a way; both axes start at 0."""
    from PIL import Image, ImageDraw

    wide, high, left = 360, 240, 60
    series = list(dict.fromkeys(p.series for p in points))
    ways = list(dict.fromkeys(p.way for p in points))
    image = Image.new("RGB", (wide * len(series) + 20, high * 2 + 30), (255, 255, 255))
    draw = ImageDraw.Draw(image)
    for row, (title, unit) in enumerate((("peak_mb", "MB"), ("seconds", "s"))):
        top = max(getattr(p, title) for p in points) * 1.1
        for column, name in enumerate(series):
            x0, y0 = column * wide + left, row * high + 20
            x1, y1 = x0 + wide - left - 20, y0 + high - 60
            some = [p for p in points if p.series == name]
            most = max(p.film_mpx for p in some)
            draw.line((x0, y0, x0, y1, x1, y1), fill=(90, 90, 90))
            draw.text((x0 + 4, y0 - 12), f"{unit} as {name} grows", fill=(0, 0, 0))
            draw.text((x0 - 50, y0), f"{top:.0f}", fill=(90, 90, 90))
            draw.text((x1 - 60, y1 + 4), f"{most:.0f} Mpx", fill=(90, 90, 90))
            for nth, way in enumerate(ways):
                colour = ((200, 60, 50), (40, 110, 190), (60, 140, 70))[nth % 3]
                line = [
                    (x0 + (x1 - x0) * p.film_mpx / most, y1 - (y1 - y0) * getattr(p, title) / top)
                    for p in some
                    if p.way == way
                ]
                draw.line([c for xy in line for c in xy], fill=colour, width=2)
                for x, y in line:
                    draw.ellipse((x - 3, y - 3, x + 3, y + 3), fill=colour)
                draw.text((x0 + 70 * nth, y1 + 20), way, fill=colour)
    image.save(path)
    print(path)
