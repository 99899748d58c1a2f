"""What the page mixes itself besides the flat print, in a real browser: the garment, a screen that is off."""

from __future__ import annotations

import hashlib
import os
import sys

import numpy as np
import pytest
from PIL import Image

from sepkit.preview.moved import moved
from sepkit.preview.stack import lies_under, planes_seen, stack_colours, stack_rgb
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.session import Session
from tests.benchmarks._page_access import axe_source, faults
from tests.helpers.chromium import chromium
from tests.helpers.lifted import on_garment
from tests.helpers.page_server import serving

browser = chromium


@pytest.fixture(scope="module")
def art(tmp_path_factory):
    y, x = np.mgrid[:150, :180].astype(float)
    ring = np.clip(55 - np.hypot(x - 70, y - 75) + 0.5, 0, 1)
    bar = np.clip(np.minimum(x - 60.3, 170.7 - x) + 0.5, 0, 1) * np.clip(np.minimum(y - 80.2, 120 - y) + 0.5, 0, 1)
    rgb = np.ones((150, 180, 1)) * np.array([244.0, 201, 93])
    rgb = rgb * (1 - bar[..., None]) + np.array([30.0, 60, 160]) * bar[..., None]
    path = tmp_path_factory.mktemp("looks") / "ring.png"
    alpha = 255 * (1 - (1 - ring) * (1 - bar))
    Image.fromarray(np.rint(np.dstack([rgb, alpha])).astype(np.uint8)).save(path)
    return path


@pytest.fixture(scope="module")
def server(tmp_path_factory, art):
    with serving(tmp_path_factory.mktemp("work")) as running:
        running.laid(art, garment="black tee", width_mm=120)
        yield running


LOOKS = """async ([lifted, plate, right, down]) => {
  const { get, inflated } = await import("/s/api.js"), { mix, paint } = await import("/s/mix.js");
  const { painted, parseIndex } = await import("/s/runs.js");
  const { parseGarment, worn } = await import("/s/worn.js"), { knocked } = await import("/s/knock.js");
  const one = await get("/api/print/1"), index = parseIndex(await inflated("/api/print/1/index"));
  const bare = parseGarment(await inflated("/api/print/1/bare"));
  const off = new Set(lifted), inked = new Uint8Array(index.count);
  for (let c = 0; c < index.count; c++)
    for (let k = 0; k < index.plates; k++) if (index.levels[c * index.plates + k] && !off.has(k)) inked[c] = 1;
  const frame = worn(bare, index, mix(index, one.state.stack, one.state.under, off), inked);
  const hit = knocked(index, plate, right, down);
  const colours = paint(mix(hit, one.state.stack, one.state.under, new Set()), hit.count);
  const shown = painted(hit, colours);
  const hex = async (bytes) => Array.from(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
  const packed = (bytes) => {
    let text = "";
    for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
    return btoa(text);
  };
  const garment = packed(new Uint8Array(frame.data.buffer));
  return { width: frame.width, height: frame.height, garment, knocked: await hex(shown) };
}"""


@pytest.mark.parametrize("lifted", [[], [0]], ids=["all", "one lifted"])
def test_garment_and_knocked_screen_are_the_engine_s(browser, server, art, lifted):
    """The garment within a level of ``draw_garment`` everywhere; a screen moved by parts of a pixel, bit for bit."""
    if browser is None:
        return
    import base64

    session = Session(PrintOptions(art, "black tee", width_mm=120))
    page = browser.new_page()
    page.goto(server.address)
    page.wait_for_selector("#place-table:not([hidden])", timeout=120_000)
    right, down = 2.37, -1.61
    told = page.evaluate(LOOKS, [lifted, 1, right, down])
    page.close()
    raw = np.frombuffer(base64.b64decode(told["garment"]), np.uint8)
    shown = raw.reshape(told["height"], told["width"], 4)[..., :3].astype(int)
    off = np.abs(shown - on_garment(session.planned, lifted))
    assert off.max() <= 1
    assert off.mean() < 0.05
    plates, garment = session.planned.separation.plates, session.planned.bench.garment
    planes = planes_seen(plates)
    planes[1] = moved(planes[1], right_px=right, down_px=down)
    wanted = stack_rgb(planes, stack_colours(plates, garment), tones=[None] * len(plates), under=lies_under(plates))
    rgba = np.dstack([wanted, np.full(wanted.shape[:2], 255, np.uint8)])
    assert bytes(told["knocked"]) == hashlib.sha256(np.ascontiguousarray(rgba).tobytes()).digest()


def test_a_piece_is_picked_and_undone_and_lifting_tells_its_price(browser, server):
    if browser is None:
        return
    page = browser.new_page()
    page.goto(server.address)
    page.locator(".piece.made").wait_for(timeout=120_000)
    assert page.locator(".piece img").first.get_attribute("alt")
    page.locator("#cloth").focus()
    page.keyboard.press("1")
    page.locator("#status", has_text="is lifted: it does not print; ΔE00 to the art").wait_for(timeout=60_000)
    page.keyboard.press("0")
    page.locator("#status", has_text="All screens are down").wait_for(timeout=60_000)
    before = page.inner_text("#facts")
    page.get_by_role("button", name="finished").click()
    page.get_by_role("button", name="Find the worst").click()
    page.locator("#status", has_text="mm").wait_for(timeout=60_000)
    other = page.locator(".piece button:enabled")
    if other.count():
        other.first.click()
        page.locator("#undo:enabled").wait_for(timeout=60_000)
        page.locator("#undo").click()
        page.locator("#status", has_text="Undone").wait_for(timeout=60_000)
    assert page.inner_text("#facts") == before
    page.close()


@pytest.mark.parametrize("place", ["The table", "The drop", "Ink bench", "Test print"])
def test_every_place_fits_a_narrow_window_and_stands_without_colour_or_motion(browser, server, place):
    """WCAG 2.2, 1.4.10 and 2.3.3, forced colours, and all rules of axe-core."""
    if browser is None:
        return
    page = browser.new_page(viewport={"width": 320, "height": 640}, forced_colors="active", reduced_motion="reduce")
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(server.address)
    page.wait_for_selector("#place-table:not([hidden])", timeout=120_000)
    page.locator("#places").get_by_role("button", name=place).focus()
    page.keyboard.press("Enter")
    page.wait_for_timeout(600)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert page.evaluate("document.activeElement.textContent") == place  # the focus stays
    pressed = page.locator("#places button[aria-pressed=true]")
    assert pressed.inner_text() == place
    assert page.evaluate("getComputedStyle(document.querySelector('.station canvas')).transitionDuration") == "0s"
    source = axe_source()
    if source is None:
        assert os.environ.get("CI", "").lower() != "true", "axe is missing: pip install -e '.[browser]'"
        sys.__stderr__.write("\n*** axe is missing: the page was NOT read by it ***\n")
    else:
        assert faults(page, source) == []
    assert said == []
    page.close()
