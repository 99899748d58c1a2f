"""The page as axe-core reads it (MPL-2.0, an outside reader; the extra ``browser`` brings it): every state, all rules.

Beside it what axe does not see: sideways scrolling at 320 CSS pixels (WCAG 2.2, 1.4.10), targets of 24 px (2.5.8).
"""

from __future__ import annotations

import importlib.util
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.benchmarks._page_flows import Given, flag, opened
from tests.helpers.page_server import serving

SMALL_TARGETS = """() => Array.from(document.querySelectorAll("button, select, input, summary"))
  .filter((one) => one.checkVisibility() && !/^(radio|checkbox)$/.test(one.type))
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 24 || box.height < 24)
  .map(([one, { width, height }]) => `${one.tagName} ${one.textContent.slice(0, 20)} ${width} x ${height}`)"""


def axe_source() -> str | None:
    """Return axe-core's script, None where it is not installed."""
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        return None
    return (Path(found.origin).parent / "axe.min.js").read_text("utf-8")


def faults(page: Any, source: str) -> list[str]:
    """Return what axe finds on the page as it stands."""
    page.evaluate(source + "\n;0")
    told = page.evaluate("async () => (await axe.run(document, { resultTypes: ['violations'] })).violations")
    return [f"{one['id']} ({one['impact']}): {node['html'][:110]}" for one in told for node in one["nodes"][:3]]


def states(page: Any) -> Iterator[str]:
    """Bring the page into one state after the other, by name; a print lies on the table."""
    page.locator(".piece.made").first.wait_for()
    page.wait_for_timeout(300)
    yield "table"
    for way in ("flat", "film", "art"):
        page.locator(f'[name="look"][value="{way}"]').check()
        yield f"held: {way}"
    for nth, name in ((1, "a station"), (0, "the base")):
        page.locator(".station .name").nth(nth).click()
        yield name
    joint = page.locator('#line [data-key$="joint"]:visible').first
    if joint.count():
        joint.click()
        yield "a joint"
    page.locator('#line [data-key="finished"]').click()
    yield "the finished piece"
    page.locator("#line [data-key$=lift]").last.click()
    page.locator("#status", has_text="is lifted").wait_for()
    yield "a screen lifted"
    page.locator("summary", has_text="More to say").click()
    yield "more to say"
    page.evaluate("() => fetch('/api/none')")
    for place, ready in (("drop", "#place-drop form"), ("inks", "#place-inks form"), ("photo", "#place-photo form")):
        page.locator(f'#places [data-place="{place}"]').click()
        page.locator(ready).first.wait_for()
        if place == "inks":
            page.locator("#place-inks [type=submit]").first.click()
            page.locator("#place-inks .swatch").first.wait_for()
        yield f"desk: {place}"
    page.locator("#place-photo button", has_text="Read the wedge").click()
    page.locator("#bar:not([hidden])").wait_for()
    yield "an error told"


def access(browser: Any, given: Given) -> list[str]:
    """Axe on every state: empty, table, each look, station, joint, finished, each desk, an error; 320 px; targets."""
    source = axe_source()
    if source is None:
        return ["axe is not installed: pip install axe-playwright-python"]
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder) / "work"
        work.mkdir()
        with serving(work) as server:
            with opened(browser, server) as page:
                wrong += [f"empty: {fault}" for fault in faults(page, source)]
            server.laid(flag(Path(folder) / "flag.png"), garment="black tee")
            with opened(browser, server) as page:
                count = 1
                for name in states(page):
                    page.wait_for_timeout(50)
                    found = faults(page, source)
                    found += [f"a target of less than 24 px: {one}" for one in page.evaluate(SMALL_TARGETS)]
                    page.set_viewport_size({"width": 320, "height": 640})
                    wide = page.evaluate("document.documentElement.scrollWidth")
                    page.set_viewport_size({"width": 1280, "height": 900})
                    found += [f"{wide} px wide at 320"] if wide > 320 else []
                    wrong += [f"{name}: {fault}" for fault in found]
                    count += 1
                rules = page.evaluate("axe.getRules().length")
                print(f"  {count} states, {rules} rules of axe {page.evaluate('axe.version')}")
    return wrong
