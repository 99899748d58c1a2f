"""Times of deciding a print again: ``python -m tests.benchmarks._again ART GARMENT WIDTH_MM`` prints one JSON object.

The art is read and separated once and planned once. Then single wishes change, one after another and each from the
plan as first made, as a person at a page would ask; areas stay. Told are seconds and processor seconds of
``decide_plates`` (all screens decided) and of ``planned_again`` (with the predicted picture and what to tell).
"""

from __future__ import annotations

import json
import resource
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sepkit.decisions import Wishes
    from sepkit.model import InkArea
    from sepkit.workshop.print.plan import PlannedPrint

SWAPPED = (176, 74, 160)


def main(art: Path, garment: str, width_mm: float) -> None:
    """Plan once, change wishes, print the times."""
    from sepkit.coverage.keep import Keep, session_bytes
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.plates.overprint_plan import decide_plates
    from sepkit.workshop.print.options import PrintOptions, bench_of
    from sepkit.workshop.print.plan import plan_print, planned_again
    from sepkit.workshop.print.session import settle_keep

    options = PrintOptions(art, garment, width_mm=width_mm)
    planned = plan_print(options, replace(bench_of(options, Shelf()), keep=Keep(session_bytes(), lasting=True)))
    settle_keep(planned)
    size = planned.separation.artwork.size
    rows: list[dict[str, Any]] = []
    for words, areas, wishes in _changes(planned):
        bench = replace(planned.bench, wishes=wishes)
        row: dict[str, Any] = {"change": words, "decide": _timed(lambda a=areas, b=bench: decide_plates(a, size, b))}
        if areas is planned.areas:
            row["planned"] = _timed(lambda w=wishes: planned_again(planned, w))
        rows.append(row)
    height, width = planned.areas[0].coverage.shape
    told = {
        "megapixels": height * width / 1e6,
        "areas": len(planned.areas),
        "changes": rows,
        "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }
    print(json.dumps(told))


def _changes(planned: PlannedPrint) -> Iterator[tuple[str, tuple[InkArea, ...], Wishes]]:
    """Yield what changes, the areas to decide from, and the wishes."""
    from sepkit.decisions import AreaWish
    from sepkit.inks.identify import ink_from_swatch
    from sepkit.units import to_hex
    from tests.helpers.fewer import joined, merged

    areas, wishes = planned.areas, planned.bench.wishes
    one, other = areas[0].srgb, areas[1].srgb

    def of(wish: AreaWish) -> Wishes:
        return replace(wishes, areas={one: wish})

    yield "nothing", areas, wishes
    yield "an ink swapped", areas, of(AreaWish(ink=ink_from_swatch(to_hex(SWAPPED), SWAPPED)))
    yield "one ink's coats: two", areas, of(AreaWish(coats=2))
    yield "one ink's base: never", areas, of(AreaWish(base="never"))
    yield "one ink's base: always", areas, of(AreaWish(base="always"))
    yield "choke 0.3 mm", areas, replace(wishes, choke_mm=0.3)
    yield "trap 0.3 mm", areas, replace(wishes, trap_mm=0.3)
    yield "order: another first", areas, replace(wishes, order=(other, one))
    yield "one ink fewer", joined(areas, planned.flat.ground, len(areas) - 1), wishes
    yield "two merged", merged(areas, one, other), wishes


def _timed(work: Callable[[], object]) -> tuple[float, float]:
    wall, processor = time.perf_counter(), _processor_s()
    work()
    return time.perf_counter() - wall, _processor_s() - processor


def _processor_s() -> float:
    told = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in told)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], float(sys.argv[3]))
