"""How quick and how small the page is, as ratios within one run: 4.8 million pixels, then a sheet of 28.8 million."""

from __future__ import annotations

import contextlib
import os
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sepkit.coverage.keep import SESSION_BYTES, Keep
from sepkit.press.filming import tone_curve
from sepkit.preview.stack import printed_rgb
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.plan import edited_again
from sepkit.workshop.print.session import Session
from sepkit.workshop.print.window import Window, planes_in
from tests.benchmarks._job_art import sheet
from tests.benchmarks._page_flows import Given, opened
from tests.helpers.page_server import Server, children, serving

GARMENT, WIDTH_MM = "black tee", 300
CHANGES: tuple[tuple[str, dict[str, Any]], ...] = (
    ("rename", {"name": "dawn"}),
    ("ink swap", {"ink": "#b03060"}),
    ("coats", {"coats": 2}),
)
WORK = """async (plate) => {
  const { get, inflated } = await import("/s/api.js"), { mix } = await import("/s/mix.js");
  const { Sizes, painted, parseIndex } = await import("/s/runs.js");
  const { knocked } = await import("/s/knock.js");
  const one = await get("/api/print/1"), index = parseIndex(await inflated("/api/print/1/index"));
  const sizes = new Sizes(index);
  const best = (work, times) => {
    let least = Infinity;
    for (let k = 0; k < times; k++) {
      const from = performance.now();
      work(k);
      least = Math.min(least, performance.now() - from);
    }
    return least;
  };
  const frames = [];
  const drawn = (of, lifted, step) => { // as the table does: into a frame that stays
    const level = of.at(step), out = (frames[step] ||= new Uint32Array(level.width * level.height));
    painted(level, of.colours(step, mix(of.index, one.state.stack, one.state.under, lifted)), { out });
  };
  let step = 0;
  while (index.width >> step > 1240 || index.height >> step > 720) step++;
  drawn(sizes, new Set(), step);
  const lift = best((k) => drawn(sizes, new Set([k % index.plates]), step), 9);
  const whole = best((k) => drawn(sizes, new Set([k % index.plates]), 0), 3);
  const moved = best((k) => drawn(new Sizes(knocked(index, plate, 2.3 + k, 1.2)), new Set(), 0), 7);
  return { count: index.count, lift, whole, moved };
}"""
PAINTED = """() => new Promise((done) => {
  const table = document.getElementById("place-table");
  const look = () => (table.hidden ? setTimeout(look, 5)
    : requestAnimationFrame(() => setTimeout(() => done(performance.timeOrigin + performance.now()), 0)));
  look();
})"""


@dataclass(frozen=True, slots=True)
class Timed:
    """What some work took: by the clock, and of the processor."""

    wall_s: float
    busy_s: float


def timed(work: Callable[[], object], *, times: int = 1) -> Timed:
    """Return the least that some work took."""
    found = []
    for _ in range(times):
        wall, busy = time.perf_counter(), time.process_time()
        work()
        found.append(Timed(time.perf_counter() - wall, time.process_time() - busy))
    return min(found, key=lambda one: one.busy_s)


def rss_mb(pid: int) -> float:
    """Return the memory of a process in MB; 0 where it is gone."""
    with contextlib.suppress(OSError, IndexError):
        return int(Path(f"/proc/{pid}/status").read_text("ascii").split("VmRSS:")[1].split()[0]) / 1024
    return 0.0


def serving_mb(server: Server) -> float:
    """Return the memory of the server and all its processes."""
    return sum(rss_mb(pid) for pid in [server.process.pid, *children(server.process.pid)])


def renderer_mb() -> float:
    """Return the memory of the largest of this process's renderers."""
    found = []
    for pid in children(os.getpid()):
        with contextlib.suppress(OSError):
            if b"--type=renderer" in Path(f"/proc/{pid}/cmdline").read_bytes():
                found.append(rss_mb(pid))
    return max(found, default=0.0)


def bars(browser: Any, _: Given) -> list[str]:
    """Flat art of 4.8 Mpx: transfer, requests, a lift and a moved screen beside the engine, changes beside deciding."""
    return _measured(browser, 2000, 2400)


def large(browser: Any, _: Given) -> list[str]:
    """A sheet of 28.8 Mpx: first paint once it is decided, lifts, an ink swap, a window, memory of tab and server."""
    return _measured(browser, 4800, 6000)


def _measured(browser: Any, across: int, down: int) -> list[str]:
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as beside:
        folder = Path(beside)
        (folder / "work").mkdir()
        art = folder / "sheet.png"
        sheet(across, down)(art)
        found, told = _on_the_page(browser, folder / "work", art, across * down)
        wrong += found
        wrong += _in_the_engine(art, across, down, told)
    return wrong


def _on_the_page(browser: Any, work: Path, art: Path, pixels: int) -> tuple[list[str], dict[str, float]]:
    wrong: list[str] = []
    with serving(work) as server, opened(browser, server) as empty:
        before_mb = renderer_mb()
        empty.close()
        name = server.ask("PUT", f"/api/art?name={art.name}", data=art.read_bytes()).json()["art"]
        server.ask("POST", "/api/print", {"art": name, "garment": GARMENT, "width_mm": WIDTH_MM})
        decided: list[float] = []

        def watch() -> None:
            while not decided:
                if server.ask("GET", "/api/print/1").json()["state"]:
                    decided.append(time.time())
                time.sleep(0.02)

        watcher = threading.Thread(target=watch)
        watcher.start()
        with opened(browser, server) as page:
            sizes: list[float] = []
            page.set_default_timeout(200_000)
            wire = page.context.new_cdp_session(page)
            wire.send("Network.enable")
            wire.on("Network.loadingFinished", lambda done: sizes.append(done["encodedDataLength"]))
            painted_s = page.evaluate(PAINTED) / 1000
            watcher.join()
            first_s = painted_s - decided[0]
            page.wait_for_timeout(500)
            told = page.evaluate(WORK, 1)
            tab_mb = renderer_mb() - before_mb
        with opened(browser, server) as page:  # a load of what is decided
            page.locator(".piece img, #pieces p").last.wait_for()
            sizes.clear()
            wire = page.context.new_cdp_session(page)
            wire.send("Network.enable")
            wire.on("Network.loadingFinished", lambda done: sizes.append(done["encodedDataLength"]))
            page.reload()
            page.locator(".piece img, #pieces p").last.wait_for()
            page.wait_for_timeout(500)  # all of it is here, the pieces to choose from as well
            loads, kb, hosts = len(sizes), sum(sizes) / 1000, {url.split("/")[2] for url in page.asked}
        server_mb = serving_mb(server)
    print(f"  first paint {first_s:.2f} s after it is decided (bar 2.5 at 28.8 Mpx)")
    print(f"  loaded: {loads} requests (bar 12), {kb:.0f} kB (bar 1000 at 4.8 Mpx), hosts {len(hosts)}")
    print(
        f"  {told['count']} combinations; tab {tab_mb:.0f} MB more = {tab_mb * 1e6 / pixels:.1f} bytes a pixel (bar 8)"
    )
    print(f"  server and its processes {server_mb:.0f} MB (bar {pixels * 40 / 1e6 + SESSION_BYTES / 1e6:.0f})")
    if first_s > 2.5:
        wrong.append(f"first paint {first_s:.2f} s")
    if kb > 1000 and pixels < 5e6:
        wrong.append(f"{kb:.0f} kB are loaded")
    if loads > 12:
        wrong.append(f"{loads} requests")
    if tab_mb * 1e6 > 8 * pixels and pixels > 20e6:
        wrong.append(f"the tab takes {tab_mb * 1e6 / pixels:.1f} bytes a pixel")
    if server_mb > (pixels * 40 + SESSION_BYTES) / 1e6:
        wrong.append(f"the server takes {server_mb:.0f} MB")
    return wrong, told


def _in_the_engine(art: Path, across: int, down: int, told: dict[str, float]) -> list[str]:
    """Hold the browser's work against the engine's on the same print, and changes against deciding afresh."""
    wrong: list[str] = []

    def must(name: str, share: float, most: float, words: str) -> None:
        print(f"  {name}: {words} = {share:.3f} (bar {most:.3f})")
        if share > most:
            wrong.append(f"{name} {share:.3f}, more than {most:.3f}")

    session = Session(PrintOptions(art, GARMENT, width_mm=WIDTH_MM))
    planned = session.planned
    plates, garment, curve = planned.separation.plates, planned.bench.garment, tone_curve(planned.making)
    engine = timed(lambda: printed_rgb(plates, garment, tone_curve=curve), times=3).busy_s * 1000
    must(
        "lift",
        told["lift"] / engine,
        1 / 20,
        f"{told['lift']:.1f} ms of {engine:.0f} ms (all pixels: {told['whole']:.0f})",
    )
    must("moved screen", told["moved"] / engine, 1 / 4, f"{told['moved']:.0f} ms of {engine:.0f} ms")
    bare = replace(planned, bench=replace(planned.bench, keep=Keep(planned.bench.keep.most_bytes, lasting=True)))
    fresh = timed(lambda: edited_again(bare, planned.bench.edits, session.wishes))
    print(f"  a fresh decision: {fresh.busy_s:.2f} s of the processor, {fresh.wall_s:.2f} by the clock")
    of = next(station.of for station in session.state().stations if station.of)
    edits: list[dict[str, Any]] = []
    for name, given in CHANGES:
        edits.append({"ink": [{"of": of, **given}]})
        took = timed(lambda values=edits[-1]: session.edit(values))
        words = f"{took.busy_s:.2f} s ({took.wall_s:.2f} by the clock)"
        must(name, took.busy_s / fresh.busy_s, 1 / 15 if name == "rename" else 1 / 4, words)
        if name == "ink swap" and took.wall_s > 1.5:
            wrong.append(f"{name}: {took.wall_s:.2f} s")
    for name, values in (("undo", edits[1]), ("redo", edits[2])):
        took = timed(lambda values=values: session.edit(values))
        must(name, took.busy_s / fresh.busy_s, 1 / 15, f"{took.busy_s:.2f} s ({took.wall_s:.2f} by the clock)")
    session.edit({})
    whole = timed(lambda: session.edit({"trap_mm": 0.6, "choke_mm": 0.4}))
    session.edit({})
    box = Window(across // 3, down // 3, 1200, 900)
    part = timed(lambda: planes_in(session.planned, box, trap_mm=0.6, choke_mm=0.4))
    must("window", part.busy_s / whole.busy_s, 1 / 10, f"{part.busy_s:.2f} of {whole.busy_s:.2f} s")
    return wrong
