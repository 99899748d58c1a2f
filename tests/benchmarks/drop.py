"""The demo jobs: screens, wash-ups, grams, garments and minutes, and how long making them takes; gang search of 8.

Each figure stands beside what it is measured against, in one run: one screen for each film, the order as written, a
second run with nothing changed.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
from pathlib import Path


def main(words: list[str]) -> None:
    """Run the demo jobs named in ``words`` (all when none is), then the gang search."""
    parser = argparse.ArgumentParser(prog="drop")
    parser.add_argument("jobs", nargs="*", default=["rowing-club", "lantern-festival", "classroom"])
    parser.add_argument("--keep", type=Path, help="folder to leave the job folders in")
    given = parser.parse_args(words)
    folder = given.keep or Path(tempfile.mkdtemp())
    try:
        for name in given.jobs:
            _one(name, folder)
        _search()
    finally:
        if given.keep is None:
            shutil.rmtree(folder, ignore_errors=True)


def _one(name: str, folder: Path) -> None:
    from sepkit.files.shelf.folders import recipes_folder
    from sepkit.workshop.drop.make import make_job

    path = recipes_folder() / "jobs" / f"{name}.toml"
    start = time.perf_counter()
    made = make_job(path, folder / name, force=True)
    first = time.perf_counter() - start
    start = time.perf_counter()
    again = make_job(path, folder / name, force=False)
    second = time.perf_counter() - start
    assert again.unchanged
    record, order = made.record, made.record["order"]
    print(f"\n{record['title']}")
    print(f"  made in {first:.1f} s ({made.prints_made} prints); again, nothing changed: {second:.2f} s")
    print(
        f"  screens {len(record['screens'])}; one for each film: {record['screens_one_each']}"
        f" (proven least: {record['screens_proven']})"
    )
    print(
        f"  screens washed {order['washups']}, as written {order['washups_as_written']}; "
        f"blades washed {order['blades_washed']}, as written {order['blades_washed_as_written']}"
    )
    print(f"  frames hung or turned {order['frames']}, as written {order['frames_as_written']}")
    print(
        f"  changing over {order['minutes']:.0f} min, as written {order['minutes_as_written']:.0f} "
        f"(proven: {order['proven']})"
    )
    for ink in record["ink"]:
        print(
            f"  {ink['name']}: stage {ink['stage_g']:.0f} g = used {ink['used_g']:.0f} + back {ink['back_g']:.0f}; "
            f"from the shelf {ink['from_shelf_g']:.0f}"
        )
    blanks = record["blanks"]
    print(
        f"  blanks {sum(b['buy'] for b in blanks)} = ordered {sum(b['ordered'] for b in blanks)} + spares "
        f"{sum(b['spares'] for b in blanks)} + tests {sum(b['tests'] for b in blanks)}"
    )
    parts = ", ".join(f"{what} {minutes:.0f}" for what, minutes in record["minutes"]["parts"].items())
    print(f"  minutes {record['minutes']['all']:.0f}: {parts}")
    print(
        f"  cost {record['cost']['per_garment']:.2f} {record['cost']['currency']} a garment, pays from "
        f"{record['cost']['break_even']}"
    )


def _search() -> None:
    from sepkit.jobs import Screen
    from sepkit.model import Mesh
    from sepkit.press.gang.plan import gang_screens
    from sepkit.press.jobs import GangItem

    rng, mesh = random.Random(5), Mesh(55, 64)
    frames = [Screen("large", 533, 787, mesh, 8)]
    times, screens = [], 0
    for _ in range(20):
        items = [GangItem(f"p{n}", rng.uniform(50, 280), rng.uniform(40, 300), "white", mesh) for n in range(8)]
        start = time.perf_counter()
        plan = gang_screens(items, frames)
        times.append(time.perf_counter() - start)
        screens += len(plan.screens)
    print(
        f"\ngang search, 8 prints, 20 times: median {sorted(times)[10]:.3f} s, longest {max(times):.3f} s; "
        f"{screens} screens for {20 * 8} films"
    )
