"""What is decided for the sample art on four garments, what shows out of register, and how long a preview takes.

python -m tests.benchmarks decisions [ART ...]
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sepkit.coverage.reach import choke
from sepkit.model import Mesh, Plate
from sepkit.units import mm_to_px, px_to_mm

GARMENTS = ("black tee", "white tee", "red tee", "heather grey tee")
ART = ("harbour-flat.png", "regatta-badge.png", "oar-small.jpg")
TONAL = "lantern-glow.png"
"""Art with tones: only its trap and choke are measured, on a dark and on a light garment."""
ERROR_MM = 0.5
WIDTH_PX, HEIGHT_PX = 4800, 6000
FLAT_INKS = ("#f4c95d", "#d63c2c", "#2f9e94", "#17304f")
RUNS = 3


def main(args: list[str]) -> None:
    """Print the figures."""
    if args[:1] == ["plates"]:
        _write_plates(args[1], Path(args[2]))
        return
    if args[:1] == ["preview"]:
        _preview(args[1], Path(args[2]))
        return
    print(f"preview of {WIDTH_PX} x {HEIGHT_PX} px, base and 4 inks; each in a process of its own")
    for kind in ("flat", "tone"):
        with tempfile.TemporaryDirectory() as folder:
            for step in ("plates", "preview"):
                out = subprocess.run(
                    [sys.executable, "-m", "tests.benchmarks", "decisions", step, kind, folder],
                    check=True,
                    capture_output=True,
                    text=True,
                )
        print(out.stdout.rstrip())
    for piece in args or ART:
        for garment in GARMENTS:
            planned = _planned(piece, garment)
            if planned is None:
                print(f"\n{piece} on {garment}: nothing to print")
                continue
            _options(planned)
            if garment == GARMENTS[0]:
                _stress(planned)
    if not args:
        for garment in GARMENTS[:2]:
            planned = _planned(TONAL, garment)
            print(f"\n{TONAL} on {garment}, flat parts (between dots garment belongs)")
            _stress(planned)


def _planned(piece: str, garment: str) -> Any:
    from sepkit.errors import ArtworkError
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.workshop.demo import demo_options
    from sepkit.workshop.print.options import bench_of
    from sepkit.workshop.print.plan import plan_print

    options = demo_options(piece, garment)
    try:
        return plan_print(options, bench_of(options, Shelf()))
    except ArtworkError:
        return None


def _options(planned: Any) -> None:
    separation = planned.separation
    print(
        f"\n{separation.artwork.source} on {separation.garment.name}: predicted print against art "
        f"dE00 {separation.mean_de00:.2f} mean, {separation.p95_de00:.2f} p95"
    )
    for name, choice in planned.plan.choices.items():
        ways = "   ".join(
            f"{'>' if o.label == choice.chosen.label else ' '}{o.label} {o.de00:.1f}" for o in choice.options
        )
        print(f"  {name:12} {ways}")
    base = next((p for p in separation.plates if p.role == "underbase"), None)
    chosen = "none" if base is None else f"{base.coats} coat(s), {100 * float(base.printed.mean()) / 255:.0f} %"
    order = ", ".join(f"{p.round}:{p.name}{' (flash)' if p.flash_after else ''}" for p in separation.plates)
    print(f"  base: {chosen}; order by round: {order}")


def _stress(planned: Any) -> None:
    """Compare no choke and no trap, a choke of each plate on its own, and the decided plates."""
    from sepkit.preview.stress import exposed

    separation = planned.separation
    plates, dpi = separation.plates, separation.artwork.dpi
    naive = naive_planes(plates, dpi=dpi)
    print(
        f"  out of register by {ERROR_MM} mm, worst of all shifts, mm2; cracks of the base along joins, mm2; "
        "trapped ink that shows without its base, mm2"
    )
    rows = (
        ("as the art asks", [p.coverage for p in plates]),
        ("each plate choked", naive),
        (
            "base to the joins",
            [np.minimum(p.printed, p.coverage) if p.role == "underbase" else p.printed for p in plates],
        ),
        ("trap and choke", [p.printed for p in plates]),
    )
    first = None
    for words, planes in rows:
        found = exposed(plates, which="printed", dpi=dpi, error_mm=ERROR_MM, planes=planes)
        first = first or found
        crack = crack_mm2(plates, planes, dpi=dpi)
        bare = unbased_mm2(planned, planes)
        print(
            f"    {words:18} base {found.peek_mm2:8.2f} ({_share(found.peek_mm2, first.peek_mm2)})   "
            f"gaps {found.gap_mm2:8.2f} ({_share(found.gap_mm2, first.gap_mm2)})   cracks {crack:8.2f}   "
            f"no base {bare:7.2f}"
        )


def unbased_mm2(planned: Any, planes: list[Any]) -> float:
    """Return the most ink chosen to have a base that shows without one when an ink without base is off, in mm²."""
    from sepkit.preview.moved import moved

    separation = planned.separation
    plates, dpi = separation.plates, separation.artwork.dpi
    base = [plane for plate, plane in zip(plates, planes, strict=True) if plate.role == "underbase"]
    with_base = [name for name, choice in planned.plan.choices.items() if choice.chosen.base_coats]
    seen = [plane for plate, plane in zip(plates, planes, strict=True) if plate.name in with_base]
    others = [
        (plate, plane)
        for plate, plane in zip(plates, planes, strict=True)
        if plate.name not in with_base and plate.role == "colour"
    ]
    px, worst = mm_to_px(ERROR_MM, dpi), 0.0
    if not base or not seen:
        return 0.0
    bare = np.minimum(np.maximum.reduce(seen), 255 - base[0])
    for plate, plane in others:
        inside = choke(plate.coverage, 0.5)
        for degrees in range(0, 360, 45):
            angle = np.radians(degrees)
            here = moved(plane, right_px=px * float(np.cos(angle)), down_px=px * float(np.sin(angle)))
            rest = [other for _, other in others if other is not plane]
            shows = np.minimum.reduce([bare, 255 - here, inside, *(255 - other for other in rest)])
            worst = max(worst, float(shows[shows > 127].sum(dtype=np.int64)) / 255 * px_to_mm(1, dpi) ** 2)
    return worst


def naive_planes(plates: tuple[Plate, ...], *, dpi: float) -> list[Any]:
    """Return planes with the base choked under each ink on its own, which is where cracks come from; no traps."""
    px = mm_to_px(ERROR_MM, dpi)
    base = next((k for k, p in enumerate(plates) if p.role == "underbase"), None)
    planes = [p.coverage for p in plates]
    if base is not None:
        asked = plates[base].coverage
        under = [np.minimum(choke(p.coverage, px), asked) for k, p in enumerate(plates) if k != base]
        planes[base] = np.maximum.reduce(under)
    return planes


def crack_mm2(plates: tuple[Plate, ...], planes: list[Any], *, dpi: float) -> float:
    """Return the area where the base is missing inside its own outline drawn in by the choke."""
    base = next((k for k, p in enumerate(plates) if p.role == "underbase"), None)
    if base is None:
        return 0.0
    inside = choke(plates[base].coverage, mm_to_px(ERROR_MM, dpi) + 0.5) > 254
    missing = (255 - planes[base].astype(np.int16)) / 255
    return float(missing[inside].sum()) * px_to_mm(1, dpi) ** 2


def _share(part: float, whole: float) -> str:
    return "    -" if whole <= 0 else f"{100 * part / whole:5.2f} %"


def _preview(kind: str, folder: Path) -> None:
    """Time the predicted print of big plates beside Pillow's alpha_composite of the same plates."""
    from PIL import Image

    from sepkit.coverage.sums import any_ink
    from sepkit.preview.stack import printed_rgb
    from tests.helpers.shelf import find_garment

    plates = _big_plates(kind, [np.load(folder / f"{k}.npy") for k in range(5)])
    garment = find_garment("black tee")
    ours = [_timed(lambda: printed_rgb(plates, garment)) for _ in range(RUNS)]
    printed = printed_rgb(plates, garment)
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    drawn = [_timed(lambda: _draw(garment, printed, any_ink([p.printed for p in plates]))) for _ in range(RUNS)]
    drawn_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    layers = []
    for plate in plates:
        layer = Image.new("RGBA", (WIDTH_PX, HEIGHT_PX), (*plate.print_srgb, 255))
        layer.putalpha(Image.fromarray(plate.printed))
        layers.append(layer)

    def composite() -> None:
        picture = Image.new("RGBA", (WIDTH_PX, HEIGHT_PX), (*garment.srgb, 255))
        for layer in layers:
            picture.alpha_composite(layer)

    a, b, c = (_median(runs) for runs in (ours, drawn, [_timed(composite) for _ in range(RUNS)]))
    print(
        f"  {kind}: predicted print {a[0]:.2f} s ({a[1]:.2f} s of processor), peak {peak_mib:.0f} MiB; drawn on the "
        f"garment {b[0]:.2f} s more ({b[1]:.2f}), peak {drawn_mib:.0f} MiB;\n    alpha_composite {c[0]:.2f} s "
        f"({c[1]:.2f}); ratio {a[1] / c[1]:.1f}, with the garment {(a[1] + b[1]) / c[1]:.1f}"
    )


def _timed(work: Any) -> tuple[float, float]:
    """Return wall and processor seconds."""
    wall, busy = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - busy


def _median(runs: list[tuple[float, float]]) -> tuple[float, float]:
    return statistics.median(r[0] for r in runs), statistics.median(r[1] for r in runs)


def _draw(garment: Any, printed: Any, mask: Any) -> None:
    from sepkit.places import PLACES
    from sepkit.preview.garment import WornPrint, draw_garment

    draw_garment(garment, WornPrint.of(printed, mask, 400, 500, PLACES["full front"]))


def _write_plates(kind: str, folder: Path) -> None:
    """Draw a base and four inks of overlapping discs with smooth edges; ``tone`` adds a fade to each ink."""
    from PIL import Image, ImageDraw

    rng = np.random.default_rng(4)
    label = Image.new("L", (WIDTH_PX, HEIGHT_PX), 0)
    draw = ImageDraw.Draw(label)
    for k in range(90):
        x, y, r = int(rng.integers(0, WIDTH_PX)), int(rng.integers(0, HEIGHT_PX)), int(rng.integers(60, 800))
        draw.ellipse((x - r, y - r, x + r, y + r), fill=k % 5)
    labels = np.asarray(label)
    total = np.zeros(labels.shape, np.uint16)
    for k in range(1, 5):
        soft = np.asarray(Image.fromarray((labels == k).astype(np.uint8) * 255).reduce(2).resize(label.size))
        if kind == "tone":
            soft = np.rint(soft * np.linspace(0.25, 1, WIDTH_PX, dtype=np.float32)).astype(np.uint8)
        np.save(folder / f"{k}.npy", soft)
        total += soft
    np.save(folder / "0.npy", np.minimum(total, 255).astype(np.uint8))


def _big_plates(kind: str, planes: list[Any]) -> list[Plate]:
    from sepkit.inks.identify import ink_from_swatch
    from tests.helpers.shelf import find_ink

    base = planes[0]
    plain = Plate(
        1, "", "colour", find_ink("white"), (0, 0, 0), (0, 0, 0), base, base, None, 1, False, None, Mesh(62, 60)
    )
    out = [replace(plain, name="underbase", role="underbase", art_srgb=None, print_srgb=(230, 230, 226))]
    for k, (plane, colour) in enumerate(zip(planes[1:], FLAT_INKS, strict=True), 2):
        tone = (plane > 0) & (plane < 255) if kind == "tone" else None
        rgb = tuple(bytes.fromhex(colour[1:]))
        ink = ink_from_swatch(colour, rgb)
        out.append(
            replace(plain, order=k, name=colour, ink=ink, print_srgb=rgb, coverage=plane, printed=plane, tone=tone)
        )
    return out
