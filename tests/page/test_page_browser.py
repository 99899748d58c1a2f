"""The page in a real browser (Debian's chromium): what it shows is what the engine predicts, and keys do all of it.

Without chromium or playwright these check nothing: with CI=true that fails, elsewhere it is reported.
"""

from __future__ import annotations

import base64
import hashlib
import http.server
import json
import threading
from itertools import combinations

import numpy as np
import pytest
from PIL import Image

from sepkit.page.bundle import bundled
from sepkit.page.static_files import STATIC
from sepkit.press.filming import tone_curve
from sepkit.preview.seen import reduced
from sepkit.preview.stack import printed_rgb
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.session import Session
from tests.benchmarks._page_flows import Walk
from tests.helpers.chromium import chromium
from tests.helpers.lifted import flat_print
from tests.helpers.page_hands import Keys
from tests.helpers.page_server import serving

browser = chromium

RED, BLUE, SUN = "#c82828", "#1e3ca0", "#f4c95d"


@pytest.fixture(scope="module")
def arts(tmp_path_factory):
    """A flat badge with soft edges, and a glow that needs dots."""
    folder = tmp_path_factory.mktemp("art")
    y, x = np.mgrid[:120, :161].astype(float)
    ring = np.clip(40 - np.hypot(x - 60, y - 60) + 0.5, 0, 1)
    bar = np.clip(np.minimum(x - 50.3, 150.7 - x) + 0.5, 0, 1) * np.clip(np.minimum(y - 70.2, 100 - y) + 0.5, 0, 1)
    colours = [np.array(tuple(bytes.fromhex(c[1:])), float) for c in (RED, BLUE)]
    rgb = colours[0] * np.ones((120, 161, 1))
    rgb = rgb * (1 - bar[..., None]) + colours[1] * bar[..., None]
    alpha = 1 - (1 - ring) * (1 - bar)
    flat = folder / "badge.png"
    Image.fromarray(np.rint(np.dstack([rgb, 255 * alpha])).astype(np.uint8)).save(flat)
    away = np.clip(np.hypot(x - 80, y - 60) / 70, 0, 1)[..., None]
    glow = np.array([250, 210, 90]) * (1 - away) + np.array([150, 30, 60]) * away
    soft = folder / "glow.png"
    Image.fromarray(np.rint(glow).astype(np.uint8)).save(soft)
    return flat, soft


@pytest.fixture(scope="module")
def server(tmp_path_factory, arts):
    with serving(tmp_path_factory.mktemp("work")) as running:
        for art in arts:
            running.laid(art, garment="black tee")
        yield running


def opened(browser, server, **view):
    page = browser.new_page(viewport=view or {"width": 1280, "height": 900})
    page.said = []
    page.hosts = set()
    page.on("console", lambda message: page.said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.on("response", lambda answer: page.said.append(answer.url) if answer.status >= 400 else None)
    page.on("request", lambda request: page.hosts.add(request.url.split("/")[2]))
    page.goto(server.address)
    page.wait_for_selector("#place-table:not([hidden])", timeout=60_000)
    return page


def told(page, place, words):
    """Wait until a place holds words."""
    page.locator(place, has_text=words).wait_for(timeout=60_000)


COLOURS = """async ([id, lifts]) => {
  const { get, inflated } = await import("/s/api.js"), { mix, paint } = await import("/s/mix.js");
  const { Sizes, painted, parseIndex } = await import("/s/runs.js");
  const one = await get(`/api/print/${id}`), index = parseIndex(await inflated(`/api/print/${id}/index`));
  const pixels = painted(index, Uint32Array.from({ length: index.count }, (_, n) => n));
  const digest = await crypto.subtle.digest("SHA-256", pixels), sizes = new Sizes(index), half = sizes.at(1);
  const packed = (array) => {
    const bytes = new Uint8Array(array.buffer, array.byteOffset, array.byteLength);
    let text = "";
    for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
    return btoa(text);
  };
  const seen = lifts.map((lifted) => {
    const linear = mix(index, one.state.stack, one.state.under, new Set(lifted));
    const small = sizes.colours(1, linear);
    return [packed(paint(linear, index.count)), packed(painted(half, small))];
  });
  return { digest: Array.from(new Uint8Array(digest)), seen };
}"""


def unpacked(colours, shape):
    return np.frombuffer(base64.b64decode(colours), np.uint8).reshape(*shape, 4)[..., :3]


@pytest.mark.parametrize(("number", "most", "share"), [("1", 0, 0.0), ("2", 1, 1e-3)], ids=["flat", "tones"])
def test_every_state_of_lifted_screens_is_what_the_engine_predicts(browser, server, arts, number, most, share):
    if browser is None:
        return
    session = Session(PrintOptions(arts[int(number) - 1], "black tee", width_mm=80))
    plates, index = session.planned.separation.plates, session.index()
    lifts = [list(k) for n in range(len(plates)) for k in combinations(range(len(plates)), n)]
    made = session.planned.making
    assert np.array_equal(
        flat_print(session.planned), printed_rgb(plates, session.planned.bench.garment, tone_curve=tone_curve(made))
    )
    page = opened(browser, server)
    told = page.evaluate(COLOURS, [number, lifts])
    assert bytes(told["digest"]) == hashlib.sha256(index.pixels().tobytes()).digest()
    pixels = index.pixels()
    for lifted, (colours, small) in zip(lifts, told["seen"], strict=True):
        wanted = flat_print(session.planned, lifted)
        shown = unpacked(colours, (-1,))[pixels]
        off = np.abs(shown.astype(int) - wanted).max(axis=2)
        assert off.max() <= most
        assert (off > 0).mean() <= share
        halved = reduced(wanted, most_px=-(-max(wanted.shape[:2]) // 2))
        assert np.abs(unpacked(small, halved.shape[:2]).astype(int) - halved).max() <= 1
    assert page.said == []
    page.close()


def test_modules_of_one_file_run_once_in_order_and_give_what_they_export(browser):
    """The page itself is one such file (``page.js``): each of these tests loads it."""
    if browser is None:
        return
    modules = {
        "app": 'import { Counted, one } from "/s/low.js";\n'
        'import("/s/late.js").then((m) => console.log(one(1, 0), new Counted().n, m.late()));\n',
        "low": "let n = 0;\nexport class Counted { constructor() { this.n = ++n; } }\n"
        "export const one = (a, b) => [a, `,${b}`][0];\n",
        "late": 'import { Counted } from "/s/low.js";\nexport function late() { return new Counted().n; }\n',
    }
    text = bundled(modules, "app")
    assert text.index("$$low = ") < text.index("$$app = ")
    page = browser.new_page()
    with page.expect_console_message(timeout=10_000) as said:
        page.evaluate("(text) => { (0, eval)(text); }", text)
    assert said.value.text == "1 1 2"
    page.close()


def test_hints_name_what_the_page_has(browser):
    if browser is None:
        return
    hints = {
        "give --inks 6, or art of fewer colours": "give “inks: 6” on the ticket, or art of fewer colours",
        '--inks "#ffffff" leaves it open': "“inks: #ffffff” on the ticket leaves it open",
        "name white among the inks (--inks)": "name white among the inks (“inks” on the ticket)",
        "--inks all prints it": "“All inks” below prints it",
    }
    told = json.dumps([{"word": "note", "text": "", "hint": hint, "more": ""} for hint in hints])
    modules = {
        "app": f'import {{ findings }} from "/s/dom.js";\nconsole.log(findings({told}).textContent);\n',
        "dom": (STATIC / "dom.js").read_text("utf-8"),
    }
    page = browser.new_page()
    with page.expect_console_message(timeout=10_000) as said:
        page.evaluate("(text) => { (0, eval)(text); }", bundled(modules, "app"))
    assert said.value.text.split(" – ")[1:] == list(hints.values())
    page.close()


def test_pieces_of_a_print_in_dots_are_laid_beside_it(server):
    """Its screens were solved together: another number of them is a print of its own, once for all asking."""
    body = server.ask("GET", "/api/print/2/pieces").body
    length = int.from_bytes(body[:4], "little")
    rows, pictures = json.loads(body[4 : 4 + length]), body[4 + length :]
    assert sum(row["made"] for row in rows) == 1
    assert all(pictures[slice(*row["octets"])].startswith(b"RIFF") for row in rows)
    other = next(row for row in rows if not row["made"])
    beside = server.ask("POST", "/api/print/2/beside", other["lay"]).json()
    assert server.ask("POST", "/api/print/2/beside", other["lay"]).json()["id"] == beside["id"]
    state = server.settled(beside["id"])["state"]
    assert (len(state["stations"]), state["rounds"]) == (other["screens"], other["rounds"])
    assert state["art"] == "glow.png"
    server.ask("POST", f"/api/print/{beside['id']}/away", {})


def test_a_walk_by_keyboard_alone(browser, server):
    """Lift, another pot, leave open, give back, undo; the focus stays. The whole walk: ``benchmarks page keys``."""
    if browser is None:
        return
    page = opened(browser, server)
    hands = Keys(page)
    hands.press("#stubs button:first-child")
    told(page, "#facts", "badge.png")
    hands.still()
    walk = Walk(hands, server, None, number="1")
    first, of = walk.one(), BLUE
    hands.press(f'#line [data-key="{of} lift"]')
    hands.told("is lifted")
    assert page.evaluate("document.activeElement.textContent") == "put down"
    hands.key("Enter")
    walk.choose(of)
    walk.edit("pot", "pot", "pick", "green")
    assert page.evaluate("document.activeElement.dataset.field") == "pot"
    walk.edit("leave open", "leave", "press")
    rev = walk.one()["rev"]
    assert page.evaluate("document.activeElement.dataset.of") == of  # it is offered its screen again
    hands.key("Enter")
    walk.changed("own screen again", rev)
    assert page.evaluate("document.activeElement.dataset.key") == f"{of} name"
    for _ in range(3):
        rev = walk.one()["rev"]
        hands.press("#undo")
        walk.changed("undo", rev)
    hands.key("Enter")
    hands.told("Nothing to undo")
    assert page.evaluate("document.activeElement.id") == "undo"
    assert walk.one()["state"] == first["state"]
    assert hands.stumbles + page.said == []
    page.close()


def test_a_small_window_needs_no_sideways_scrolling_and_one_host_is_asked(browser, server):
    """WCAG 2.2, 1.4.10: 320 CSS pixels."""
    if browser is None:
        return
    page = opened(browser, server, width=320, height=700)
    page.wait_for_timeout(500)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert page.hosts == {f"127.0.0.1:{server.port}"}
    assert page.evaluate("location.hash") == ""
    assert page.evaluate("document.cookie") == ""
    page.close()


def test_markup_and_scripts_that_came_in_are_not_run(browser, server):
    if browser is None:
        return
    page = opened(browser, server)
    refused = page.evaluate(
        "(() => { try { document.body.innerHTML = '<b>x'; return ''; } catch (e) { return e.name; } })()"
    )
    assert refused == "TypeError"
    inline = page.evaluate(
        "(() => { const s = document.createElement('script');"
        " try { s.textContent = 'window.ran = 1'; } catch { return 'refused'; }"
        " document.body.append(s); return window.ran ? 'ran' : 'refused'; })()"
    )
    assert inline == "refused"
    page.close()


def test_a_page_of_another_port_gets_nothing(browser, server, tmp_path):
    if browser is None:
        return
    (tmp_path / "index.html").write_text("<!doctype html><title>other</title>")

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    other = http.server.ThreadingHTTPServer(("127.0.0.1", 0), lambda *a: Quiet(*a, directory=str(tmp_path)))
    threading.Thread(target=other.serve_forever, daemon=True).start()
    try:
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{other.server_port}/")
        before = server.ask("GET", "/api/desk").json()["prints"]
        tried = page.evaluate(
            """async ([origin, token]) => {
              const said = [];
              const write = { method: "POST", mode: "no-cors", body: "{}" };
              for (const options of [{}, { headers: { "X-Sepkit": token } }, write]) {
                try {
                  const answer = await fetch(`${origin}/api/desk`, options);
                  said.push(answer.type === "opaque" ? "opaque" : `read ${answer.status}`);
                } catch { said.push("refused"); }
              }
              return said;
            }""",
            [server.origin, server.token],
        )
        assert not [words for words in tried if words.startswith("read")]
        assert server.ask("GET", "/api/desk").json()["prints"] == before
        page.close()
    finally:
        other.shutdown()
        other.server_close()
