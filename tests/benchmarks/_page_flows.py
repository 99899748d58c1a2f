"""All that a person does on the page, from art to films, in order: by keys alone, then with a pointer."""

from __future__ import annotations

import contextlib
import hashlib
import io
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.helpers.page_hands import PATIENCE_MS, Hands, Keys, Pointer
from tests.helpers.page_server import Server, serving
from tests.helpers.runner import run


@dataclass(frozen=True, slots=True)
class Given:
    """What was asked of a piece."""

    seed: int = 1
    count: int | None = None


RED, BLUE, SUN = "#c82828", "#1e3ca0", "#f4c95d"


def flag(path: Path) -> Path:
    """Draw a flag of three colours that touch, with a spot of its own in one of them."""
    from PIL import Image

    rgba = np.zeros((100, 170, 4), np.uint8)
    for k, colour in enumerate((RED, BLUE, SUN)):
        rgba[10:80, 10 + 45 * k : 55 + 45 * k] = (*bytes.fromhex(colour[1:]), 255)
    rgba[84:96, 20:34] = (*bytes.fromhex(SUN[1:]), 255)
    Image.fromarray(rgba).save(path)
    return path


def files_of(folder: Path) -> dict[str, str]:
    """Return the digests of all files below a folder."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def quietly(*words: object) -> int:
    """Run a command without what it prints; return its exit code."""
    with contextlib.redirect_stdout(io.StringIO()):
        return run(*words)


@contextmanager
def opened(browser: Any, server: Server) -> Iterator[Any]:
    """Open the page; what it complained of stands in ``page.said``."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.said, page.asked = [], []
    page.on("console", lambda message: page.said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.on("request", lambda request: page.asked.append(request.url))
    page.set_default_timeout(PATIENCE_MS)
    page.goto(server.address)
    page.wait_for_function("() => document.getElementById('garment').options.length > 3")
    yield page
    page.close()


class Walk:
    """The flows, each a method. ``number`` is that of the print, where one lies there already."""

    def __init__(self, hands: Hands, server: Server, art: Path | None, *, number: str = "") -> None:
        self.hands, self.page, self.server, self.number = hands, hands.page, server, number
        self.art = Path() if art is None else art

    def one(self) -> dict[str, Any]:
        """Return the print as the server tells it."""
        value: dict[str, Any] = self.server.ask("GET", f"/api/print/{self.number}").json()
        return value

    def names(self) -> list[str]:
        """Return the screens in print order."""
        return [station["name"] for station in self.one()["state"]["stations"]]

    def changed(self, what: str, rev: int) -> None:
        """Wait for a change, and see that the focus stayed somewhere."""
        end = time.monotonic() + 120
        while self.one()["rev"] == rev:
            if time.monotonic() > end:
                raise AssertionError(f"{what}: nothing was changed ({self.hands.status()})")
            time.sleep(0.03)
        self.hands.still()
        self.page.wait_for_timeout(60)
        self.hands.focus_kept(what)

    def edit(self, what: str, field: str, how: str, value: str = "") -> None:
        """Make one change at the chosen screen."""
        rev, selector = self.one()["rev"], f'#tray [data-field="{field}"]'
        if how == "pick":
            self.hands.pick(selector, value)
        elif how == "fill":
            self.hands.fill(selector, value, enter=True)
        else:
            self.hands.press(selector)
        self.changed(what, rev)

    def choose(self, of: str) -> None:
        """Choose a screen by its area, "base" or "finished"."""
        key = "finished" if of == "finished" else f"{of} name"
        selector = f'#line [data-key="{key}"]'
        if of == "base":
            selector = "#line li:nth-child(2) .station .name"
        self.hands.press(selector)

    def b_lay(self) -> None:
        """Drop art, say garment and width, lay it."""
        hands = self.hands
        hands.files("#art", self.art)
        hands.told("say the garment and the width")
        hands.pick("#garment", "black tee")
        hands.fill("#width", "80")
        hands.press("#lay")
        self.page.locator("#place-table:not([hidden])").wait_for()
        self.page.locator(".piece.made").first.wait_for()
        hands.still()
        hands.focus_kept("lay")
        self.number = self.server.ask("GET", "/api/desk").json()["prints"][-1]["id"]

    def c_look(self) -> None:
        """Lift and put down, hold it all ways, zoom to film pixels."""
        hands, page = self.hands, self.page
        key = f'#line [data-key="{RED} lift"]'
        hands.press(key)
        hands.told("is lifted")
        hands.focus_kept("lift")
        hands.press(key)
        hands.told("is down again")
        if isinstance(hands, Keys):
            hands.reach("#cloth")
            hands.key("1")
            hands.told("is lifted")
            hands.key("0")
            hands.told("All screens are down")
            hands.key("ArrowLeft")
            hands.key("+")
        for way in ("flat", "art", "film"):
            hands.hold(way)
            page.wait_for_timeout(80)
        with page.expect_response(lambda answer: "/film?" in answer.url):
            for _ in range(4):
                hands.press("#nearer")
        hands.told("nearest", "#scale")
        hands.press("#whole")
        hands.hold("garment")
        hands.focus_kept("looks")

    def d_settings(self) -> None:
        """Another pot, a typed colour, coats, base, choke, trap, order."""
        self.choose(RED)
        self.edit("pot", "pot", "pick", "green")
        self.edit("typed colour", "typed", "fill", "#b03060")
        assert self.one()["edits"]["ink"][0]["ink"] == "#b03060"
        self.edit("coats", "coats", "pick", "2")
        self.edit("base", "base", "pick", "never")
        self.edit("base back", "base", "pick", "")
        before = self.names()
        way = "later" if before.index(self._name(RED)) < len(before) - 1 else "earlier"
        self.edit(way, way, "press")
        assert self.names() != before
        tray = self.page.inner_text("#tray h2")
        assert self._name(RED) in tray, f"the tray went to another screen: {tray}"
        self.choose("base")
        self.edit("choke", "choke", "fill", "0.4")
        joint = self.page.evaluate(
            "() => Array.from(document.querySelectorAll('#line [data-key$=joint]'))"
            ".find((one) => !one.hidden)?.dataset.key"
        )
        self.hands.press(f'#line [data-key="{joint}"]')
        self.edit("trap", "trap", "fill", "0,3")
        assert (self.one()["edits"]["choke_mm"], self.one()["edits"]["trap_mm"]) == (0.4, 0.3)

    def _name(self, of: str) -> str:
        return next(one["name"] for one in self.one()["state"]["stations"] if one["of"] == of)

    def e_areas(self) -> None:
        """Merge, give back, leave open, give back, move a part, rename."""
        hands = self.hands
        self.choose(RED)
        self.edit("merge", "into", "pick", BLUE)
        rev = self.one()["rev"]
        hands.press(f'#open [data-of="{RED}"]')
        self.changed("own screen again", rev)
        self.choose(SUN)
        self.edit("leave open", "leave", "press")
        rev = self.one()["rev"]
        hands.press(f'#open [data-of="{SUN}"]')
        self.changed("own screen again", rev)
        self.choose(SUN)
        self.hands.press('#tray [data-field="part"]')
        self.page.locator('#tray [data-field="to"]').wait_for()
        hands.pick('#tray [data-field="to"]', BLUE)
        scale = 80 / 170
        if isinstance(hands, Keys):
            hands.fill('#tray [data-field="part-x"]', f"{27 * scale:.1f}")
            hands.fill('#tray [data-field="part-y"]', f"{90 * scale:.1f}")
        else:
            self.page.wait_for_timeout(200)
            place = self.page.evaluate(
                """() => {
                  const box = document.getElementById("cloth").getBoundingClientRect();
                  return [box.x, box.y, box.width, box.height];
                }"""
            )
            grow = self._pixels_per_art()
            x = place[0] + place[2] / 2 + (27 - 85) * grow
            y = place[1] + place[3] / 2 + (90 - 50) * grow
            self.page.mouse.click(x, y)
        self.edit("move a part", "part-go", "press")
        assert len(self.one()["edits"]["part"]) == 1
        assert not any("found nothing" in finding["text"] for finding in self.one()["state"]["findings"])
        self.choose(SUN)
        self.edit("rename", "name", "fill", "dawn")
        hands.told("dawn", "#line")

    def _pixels_per_art(self) -> float:
        """Return screen pixels of one pixel of the art, from the scale that the page tells."""
        text = self.page.inner_text("#scale").split("·")[0]
        one, other = (float(part) for part in text.split(":"))
        return one / other

    def f_register(self) -> None:
        """Knock a screen off, put it back, find the worst."""
        hands = self.hands
        self.choose("finished")
        hands.fill('#tray [data-field="dx"]', "0.7")
        hands.press('#tray [data-field="knock"]')
        hands.told("is off by 0.7 mm right")
        hands.press('#tray [data-field="back"]')
        hands.told("on register again")
        hands.press('#tray [data-field="worst"]')
        hands.still()
        hands.told("mm")
        hands.focus_kept("worst")
        if self.page.locator("#status", has_text="At worst").count():
            hands.press('#tray [data-field="back"]')
            hands.told("on register again")

    def g_undo(self) -> None:
        """Undo to the start, redo to the end."""
        hands, now = self.hands, self.one()
        last, steps = now["state"], now["undo"]
        for by, selector in (("undo", "#undo"), ("redo", "#redo")):
            for _ in range(steps):
                rev = self.one()["rev"]
                hands.press(selector)
                self.changed(by, rev)
            assert self.one()[by] == 0
            if by == "undo":
                assert self.one()["edits"] == {}
                hands.press(selector)
        assert self.one()["state"] == last

    def h_films(self) -> None:
        """Make the folder; it holds what the command line makes with the same edits."""
        hands = self.hands
        hands.fill("#folder", f"{type(hands).__name__.lower()}-films")
        hands.press("#make [type=submit]")
        hands.still()
        hands.told("is made")
        hands.focus_kept("films")
        ours = files_of(self.server.folder / f"{type(hands).__name__.lower()}-films")
        edits = self.server.folder / "sepkit-page" / f"print-{self.number}.edits.toml"
        with tempfile.TemporaryDirectory() as beside:
            out = Path(beside) / "cli"
            art = self.server.folder / "sepkit-page" / "art" / self.art.name
            assert (
                quietly("separate", art, "--on", "black tee", "--width", "80mm", "--edits", edits, "-o", out, "--quiet")
                == 0
            )
            assert files_of(out) == ours, "the folder is another than the command line's"

    def i_drop(self) -> None:
        """A second garment, orders, and the drop's folder; ``sepkit job`` takes its file."""
        hands = self.hands
        hands.files("#art", self.art)
        hands.pick("#garment", "white tee")
        hands.press("#lay")
        self.page.locator("#stubs [aria-pressed=true]", has_text="white tee").wait_for()
        hands.still()
        hands.focus_kept("second print")
        hands.press('#places [data-place="drop"]')
        self.page.locator("#place-drop [aria-label='ordered of white tee']").wait_for()
        hands.focus_kept("to the drop")
        for garment, sizes in (("black tee", "S 2, M 4"), ("white tee", "L 3")):
            hands.fill(f"#place-drop [aria-label='ordered of {garment}']", sizes)
            self.page.wait_for_timeout(250)
        hands.fill("#place-drop form input", f"{type(hands).__name__.lower()}-drop")
        hands.press("#place-drop form [type=button]")
        hands.still()
        hands.press("#place-drop form [type=submit]")
        hands.told("is made")
        hands.still()
        hands.focus_kept("plan the day")
        self.page.locator("#place-drop .pictures img").first.wait_for()
        assert quietly("job", self.server.folder / "drop.toml", "--check", "--quiet") == 0
        hands.press('#places [data-place="table"]')

    def inks_and_photo(self) -> None:
        """The benches are reached, and the ink bench answers."""
        hands = self.hands
        hands.press('#places [data-place="inks"]')
        self.page.locator("#place-inks form").first.wait_for()
        hands.fill("#place-inks [name=target]", "#bf2f3a")
        hands.press("#place-inks section:first-child [type=submit]")
        hands.told("The best of them printed", "#place-inks")
        hands.focus_kept("match")
        hands.press('#places [data-place="photo"]')
        self.page.locator("#place-photo form").first.wait_for()
        hands.focus_kept("to the test print")
        hands.press('#places [data-place="table"]')


STEPS = ("b_lay", "c_look", "d_settings", "e_areas", "f_register", "g_undo", "h_films", "i_drop", "inks_and_photo")


def walk(browser: Any, kind: type[Hands]) -> list[str]:
    """Walk all flows with one kind of hands; print what each took, and return the stumbles."""
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder) / "work"
        work.mkdir()
        art = flag(Path(folder) / "flag.png")
        with serving(work) as server, opened(browser, server) as page:
            hands = kind(page)
            one = Walk(hands, server, art)
            for step in STEPS:
                began, keys = time.monotonic(), getattr(hands, "presses", 0)
                try:
                    getattr(one, step)()
                except Exception as error:  # told with what the page shows, and the walk ends
                    shown = " ".join(page.inner_text("main").split())[:300]
                    return [*hands.stumbles, *page.said, f"{step}: {type(error).__name__}: {error}; it shows: {shown}"]
                pressed = f", {hands.presses - keys} keys" if isinstance(hands, Keys) else ""
                print(f"  {step:16} {time.monotonic() - began:6.1f} s{pressed}", flush=True)
            kept = [
                (row["edits"], row["state"], row["undo"]) for row in server.ask("GET", "/api/desk").json()["prints"]
            ]
            stumbles = hands.stumbles + [f"the browser complained: {text}" for text in page.said]
            hosts = {url.split("/")[2] for url in page.asked if url.startswith("http")}
            stumbles += [] if hosts == {f"127.0.0.1:{server.port}"} else [f"other hosts were asked: {hosts}"]
        with serving(work) as server, opened(browser, server) as page:  # J: close all, start again
            page.locator("#place-table:not([hidden])").wait_for()
            rows = server.ask("GET", "/api/desk").json()["prints"]
            again = [server.settled(row["id"]) for row in rows]
            if [(row["edits"], row["state"], row["undo"]) for row in again] != kept:
                stumbles.append("after a new start it is not as it was")
    return stumbles


def keys(browser: Any, _: Given) -> list[str]:
    """Flows B to J by keys alone."""
    return walk(browser, Keys)


def pointer(browser: Any, _: Given) -> list[str]:
    """Flows B to J with a pointer."""
    return walk(browser, Pointer)
