"""The main job at full size: `sepkit separate` on 16 x 20 in art with four inks, films at 720 dpi.

    python -m tests.benchmarks job

Prints wall time and peak memory of the whole process, the same work's Pillow fast octree quantisation in the same run
as a yardstick, and the time of `sepkit --help` beside that of an empty Python.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

WIDTH_PX, HEIGHT_PX = 4800, 6000
INKS = ((214, 60, 44), (244, 201, 93), (47, 158, 148), (23, 48, 79))


def main(args: list[str]) -> None:
    """Print the figures."""
    if args[:1] == ["draw"]:
        _draw(Path(args[1]))
        return
    with tempfile.TemporaryDirectory() as folder:
        art = Path(folder) / "sheet.png"
        # In a process of its own: a child's peak starts from the size of the process that started it.
        _run([sys.executable, "-m", "tests.benchmarks", "job", "draw", str(art)])
        octree = _run([sys.executable, "-c", _OCTREE, str(art)])
        garments = ("#1a1a1c", "#f4f4f2")
        print(f"art {WIDTH_PX} x {HEIGHT_PX} px, 4 inks, 406.4 x 508 mm")
        print(f"Pillow fast octree, decode and quantise: {octree[0]:.2f} s, peak {octree[1]:.0f} MiB")
        for garment in garments:
            out = Path(folder) / garment.strip("#")
            words = ["separate", str(art), "--on", garment, "--width", "406.4mm", "-o", str(out), "--quiet"]
            wall, peak = _run([sys.executable, "-m", "sepkit", *words])
            plates = len(list((out / "films").glob("*.pdf")))
            print(
                f"sepkit separate on {garment}: {plates} films, {wall:.2f} s, peak {peak:.0f} MiB, "
                f"{wall / octree[0]:.1f} x fast octree"
            )
    help_s = _median([sys.executable, "-m", "sepkit", "--help"])
    bare_s = _median([sys.executable, "-c", "pass"])
    print(f"sepkit --help: {1000 * help_s:.0f} ms, an empty Python {1000 * bare_s:.0f} ms")


_OCTREE = """
import sys
from PIL import Image
Image.MAX_IMAGE_PIXELS = None
Image.open(sys.argv[1]).convert("RGBA").quantize(5, method=Image.Quantize.FASTOCTREE)
"""


def _draw(path: Path) -> None:
    """Draw overlapping discs, bars and rings with smooth edges on transparency."""
    from PIL import Image, ImageDraw

    rng = np.random.default_rng(5)
    image = Image.new("RGBA", (WIDTH_PX * 2, HEIGHT_PX * 2), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    for k in range(160):
        colour = (*INKS[k % 4], 255)
        x, y = rng.integers(0, WIDTH_PX * 2), rng.integers(0, HEIGHT_PX * 2)
        r = int(rng.integers(60, 900))
        if k % 3 == 0:
            draw.rectangle((x - r, y - r // 3, x + r, y + r // 3), fill=colour)
        elif k % 3 == 1:
            draw.ellipse((x - r, y - r, x + r, y + r), fill=colour)
        else:
            draw.ellipse((x - r, y - r, x + r, y + r), outline=colour, width=r // 6 + 12)
    image.reduce(2).save(path, compress_level=1)


def _run(words: list[str]) -> tuple[float, float]:
    """Return wall seconds and peak MiB of a process."""
    started = time.perf_counter()
    child = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(f"{words} ended with {child.returncode}")
    return time.perf_counter() - started, usage.ru_maxrss / 1024


def _median(words: list[str]) -> float:
    return statistics.median(_run(words)[0] for _ in range(9))
