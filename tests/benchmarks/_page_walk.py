"""A random walk of changes and back again: the first state, memory within its bound, the tab steady."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sepkit.coverage.keep import SESSION_BYTES
from tests.benchmarks._job_art import sheet
from tests.benchmarks._page_bars import renderer_mb, rss_mb
from tests.benchmarks._page_flows import Given, opened
from tests.helpers.page_server import Server, children, serving

ACROSS, DOWN, WIDTH_MM = 600, 750, 120
EARLY = 20
POTS = ("green", "#b03060", "white", "navy", "#f4c95d", "black")


def random_change(rng: random.Random, state: dict[str, Any]) -> dict[str, Any]:
    """Return some change of a print, sensible or not."""
    areas = [area["srgb"] for area in state["areas"]]
    of, other = rng.choice(areas), rng.choice(areas)
    stations = [station["of"] for station in state["stations"] if station["of"]]
    at_mm = [round(rng.uniform(0, state["width_mm"]), 1), round(rng.uniform(0, state["height_mm"]), 1)]
    mm = rng.choice([None, 0, 0.2, 0.35, 0.5, 0.8])
    kinds: list[Callable[[], dict[str, Any]]] = [
        lambda: {"do": "ink", "of": of, "set": {"ink": rng.choice([*POTS, None])}},
        lambda: {"do": "ink", "of": of, "set": {"coats": rng.choice([1, 2, 3, None])}},
        lambda: {"do": "ink", "of": of, "set": {"base": rng.choice(["always", "never", None])}},
        lambda: {"do": "ink", "of": of, "set": {"name": rng.choice(["dawn", "sea", None])}},
        lambda: {"do": "with", "of": of, "to": other},
        lambda: {"do": "open", "of": of},
        lambda: {"do": "own", "of": of},
        lambda: {"do": "order", "order": rng.sample(stations, len(stations))},
        lambda: {"do": "part", "of": of, "at_mm": at_mm, "to": rng.choice([other, None])},
        lambda: {"do": "trap", "mm": mm},
        lambda: {"do": "choke", "mm": mm},
    ]
    return rng.choice(kinds)()


def walked(
    server: Server, one: dict[str, Any], *, count: int, seed: int, after: Callable[[int], None]
) -> dict[str, int]:
    """Make so many random changes, then undo them all; return how many were made, refused and undone."""
    rng, number, rev, state = random.Random(seed), one["id"], one["rev"], one["state"]
    made = refused = 0
    while made < count:
        change = random_change(rng, state)
        answer = server.ask("POST", f"/api/print/{number}/edit", {"rev": rev, "change": change})
        if answer.status == 422:
            refused += 1
            continue
        assert answer.status == 200, (change, answer.body)
        made += 1
        rev, state = answer.json()["rev"], answer.json()["state"]
        after(made)
    undone = 0
    while True:
        answer = server.ask("POST", f"/api/print/{number}/step", {"rev": rev, "by": -1})
        if answer.status == 422:
            return {"made": made, "refused": refused, "undone": undone}
        undone, rev = undone + 1, answer.json()["rev"]
        after(made + undone)


def walk(browser: Any, given: Given) -> list[str]:
    """Two hundred random changes and back: the first state again, memory within its bound, the tab steady."""
    count, wrong = given.count or 200, []
    with tempfile.TemporaryDirectory() as beside:
        (Path(beside) / "work").mkdir()
        art = Path(beside) / "sheet.png"
        sheet(ACROSS, DOWN)(art)
        with serving(Path(beside) / "work") as server:
            first = server.laid(art, garment="black tee", width_mm=WIDTH_MM)
            with opened(browser, server) as page:
                page.locator("#place-table:not([hidden])").wait_for()
                memory: dict[int, tuple[float, float]] = {}

                def look(at: int) -> None:
                    if at in (EARLY, count, 2 * count) or at % 50 == 0:
                        work_mb = max(rss_mb(pid) for pid in children(server.process.pid))
                        page.wait_for_timeout(50)
                        memory[at] = (work_mb, renderer_mb())

                told = walked(server, first, count=count, seed=given.seed, after=look)
                page.wait_for_timeout(2500)
                last = server.ask("GET", f"/api/print/{first['id']}").json()
                wrong += [f"the browser complained: {text}" for text in page.said]
    print(f"  {told['made']} changes made, {told['refused']} refused, {told['undone']} undone")
    print(
        "  after so many: MB of the process, MB of the tab: "
        + "; ".join(f"{at}: {work:.0f}, {tab:.0f}" for at, (work, tab) in sorted(memory.items()))
    )
    if last["state"] != first["state"]:
        wrong.append("it is not the first state")
    most = max(work for work, _ in memory.values())
    bound = 160 + SESSION_BYTES / 1e6 + ACROSS * DOWN * 40 / 1e6
    if most > bound:
        wrong.append(f"the process takes {most:.0f} MB, more than {bound:.0f}")
    if memory[count][1] > 1.5 * memory[EARLY][1]:
        wrong.append(f"the tab grew from {memory[EARLY][1]:.0f} to {memory[count][1]:.0f} MB")
    return wrong
