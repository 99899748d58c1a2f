"""How fast, how lean and how exact films are, beside other programs in the same run, on 16 x 20 in pages.

    python -m tests.benchmarks films [--times 5] [--only halftone,plate,job,edge]

Each pair is timed in turn, and the best of several runs counts; ratios hold on a busy machine where seconds do not.
Ghostscript's tiffg4 gets the same 300 dpi grey page as a PDF. The edge figure is how deep the wrong film pixels of
antialiased 300 dpi art lie beyond the exact outline of geometric shapes.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()

WIDTH_MM, HEIGHT_MM, ART_DPI = 406.4, 508.0, 300.0
WIDTH, HEIGHT = 4800, 6000


def main(arguments: list[str]) -> int:
    """Print the figures asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks films")
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--only", default="halftone,plate,job,edge")
    given = parser.parse_args(arguments)
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cpus, best of {given.times}")
    for name in given.only.split(","):
        {"halftone": halftone, "plate": plate, "job": job, "edge": edge}[name](given.times)
    return 0


def halftone(times: int) -> None:
    """Screening alone, at film resolution, against Pillow's error diffusion."""
    from PIL import Image

    from sepkit.coverage.bands import pack_bits
    from sepkit.film.halftone import Thresholds
    from sepkit.film.outline import LEVELS
    from sepkit.film.screen import make_screen
    from sepkit.film.tone import NO_GAIN, NO_LIMITS, tone_table
    from sepkit.model import Halftone
    from tests.helpers.print_folders import waves

    grey = waves(3600, 11520, 0)
    rows = grey.astype(np.int16) * LEVELS
    dots = Halftone(45, 22.5, "ellipse")
    thresholds = Thresholds(make_screen(dots, dpi=720), tone_table(NO_GAIN, NO_LIMITS, dots), x=0, width=11520)
    image = Image.fromarray(grey)

    def ours() -> None:
        for y in range(0, 3600, 32):
            pack_bits(thresholds.screened(rows[y : y + 32], y))

    best = race(times, ours=ours, pillow=lambda: image.convert("1"))
    mpx = {name: grey.size / 1e6 / seconds for name, seconds in best.items()}
    print(
        f"halftone: {mpx['ours']:.0f} Mpx/s, Pillow convert('1') {mpx['pillow']:.0f}, "
        f"{mpx['ours'] / mpx['pillow']:.1f}x (target >= 4x)"
    )


def plate(times: int) -> None:
    """One whole plate, resampled, screened, cleaned and written, against Ghostscript's tiffg4 of the same page."""
    from sepkit.files.films.pdf import write_film_pdf
    from sepkit.film.marks import FilmLabel, film_page
    from sepkit.film.rows import FilmSettings, plan_film
    from sepkit.model import Halftone, Mesh
    from sepkit.press.mesh import tone_limits
    from tests.helpers.print_folders import waves

    grey = waves(HEIGHT, WIDTH, 0)
    mask = np.ones(grey.shape, bool)
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder)
        grey_page(target / "grey.pdf", grey)

        def ours() -> None:
            film = plan_film(
                grey,
                mask,
                Halftone(45, 22.5, "ellipse"),
                width_mm=WIDTH_MM,
                height_mm=HEIGHT_MM,
                settings=FilmSettings(limits=tone_limits(Mesh(77, 55))),
            )
            write_film_pdf(target / "film.pdf", [film_page(film, FilmLabel("red", "red", 1, 1))])

        def ghostscript() -> None:
            subprocess.run(
                [
                    "gs",
                    "-q",
                    "-dNOPAUSE",
                    "-dBATCH",
                    "-sDEVICE=tiffg4",
                    "-r720",
                    f"-sOutputFile={target / 'o.tif'}",
                    str(target / "grey.pdf"),
                ],
                check=True,
            )

        if not shutil.which("gs"):
            print("plate: Ghostscript is missing, nothing to compare with")
            return
        best = race(times, ours=ours, gs=ghostscript)
        cpu = race(max(1, times // 2), clock=cpu_seconds, ours=ours, gs=ghostscript)
    print(
        f"one plate: {best['ours']:.2f} s, Ghostscript tiffg4 {best['gs']:.2f} s, "
        f"{best['ours'] / best['gs']:.2f}x its time (target <= 0.8x), "
        f"{cpu['ours'] / cpu['gs']:.2f}x its processor time"
    )


def job(times: int) -> None:
    """Six halftoned plates by the whole command with two workers, at 720 and 1440 dpi, and its memory."""
    from tests.helpers.print_folders import make_folder

    with tempfile.TemporaryDirectory() as folder:
        target = make_folder(Path(folder) / "six", plates=6, width=WIDTH, height=HEIGHT, dpi=ART_DPI, film_dpi=720)
        figures = {}
        for dpi in (720, 1440):
            runs = [command(target, dpi) for _ in range(times if dpi == 720 else max(1, times // 2))]
            figures[dpi] = min(s for s, _ in runs), max(mb for _, mb in runs)
    (fast, lean), (fine, large) = figures[720], figures[1440]
    print(
        f"six plates, sepkit films: {fast:.2f} s (target <= 4), at 1440 dpi {fine:.2f} s = {fine / fast:.1f}x (<= 4x)"
    )
    print(f"peak memory of the largest process: {lean:.0f} MB (<= 130), at 1440 dpi {large - lean:+.0f} MB (<= +25)")


def edge(times: int) -> None:
    """Film edges against vector truth."""
    from test_film_dots import edge_deviations_um

    away = edge_deviations_um()
    print(
        f"film edge against vector truth, 300 dpi art at 720: {away.max():.0f} µm at most (<= 28), "
        f"{np.percentile(away, 99):.0f} µm at the 99th percentile (<= 14)"
    )


def race(
    times: int, *, clock: Callable[[], float] = time.perf_counter, **runners: Callable[[], object]
) -> dict[str, float]:
    """Run all in turn ``times`` times; return the best seconds of each."""
    best = dict.fromkeys(runners, float("inf"))
    for _ in range(times):
        for name, runner in runners.items():
            start = clock()
            runner()
            best[name] = min(best[name], clock() - start)
    return best


def cpu_seconds() -> float:
    """Processor time of this process and its finished children."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def command(folder: Path, dpi: int) -> tuple[float, float]:
    """Return seconds and the peak MB of the largest process of one `sepkit films`, workers included (Linux)."""
    run = [sys.executable, "-m", "sepkit", "films", str(folder), "--dpi", str(dpi), "--quiet"]
    start, most = time.perf_counter(), 0.0
    process = subprocess.Popen(run, stdout=subprocess.DEVNULL, start_new_session=True)
    while process.poll() is None:
        most = max(most, largest_mb(process.pid))
        time.sleep(0.03)
    if process.returncode:
        raise SystemExit(process.returncode)
    return time.perf_counter() - start, most


def largest_mb(session: int) -> float:
    """Return the high-water mark of the largest process of a session, from /proc."""
    most = 0.0
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text().rpartition(")")[2].split()
            if int(fields[3]) == session:
                found = re.search(r"VmHWM:\s+(\d+)", (folder / "status").read_text())
                most = max(most, int(found[1]) / 1024 if found else 0.0)
        except OSError:
            continue
    return most


def grey_page(path: Path, grey: np.ndarray) -> None:
    """Write a page with one grey image, as any program would hand it to Ghostscript."""
    import zlib

    from sepkit.files.films.pdf_objects import PdfObjects

    with path.open("wb") as file:
        pdf = PdfObjects(file)
        tree = pdf.reserve()
        entries = (
            f"/Type /XObject /Subtype /Image /ColorSpace /DeviceGray /BitsPerComponent 8 /Width {grey.shape[1]} "
            f"/Height {grey.shape[0]} /Filter /FlateDecode"
        )
        image, _, _ = pdf.stream(entries, [zlib.compress((255 - grey).tobytes(), 1)])
        body, _, _ = pdf.stream("", [b"1152 0 0 1440 0 0 cm /I Do"])
        kid = pdf.put(
            f"<< /Type /Page /Parent {tree} 0 R /MediaBox [0 0 1152 1440] /Contents {body} 0 R "
            f"/Resources << /XObject << /I {image} 0 R >> >> >>"
        )
        pdf.put(f"<< /Type /Pages /Kids [{kid} 0 R] /Count 1 >>", number=tree)
        pdf.finish(root=pdf.put(f"<< /Type /Catalog /Pages {tree} 0 R >>"))
