"""Two ways to work the page in a browser: by keys alone, or with a pointer; both do what a person does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

MOST_TABS = 250
PATIENCE_MS = 120_000

ACTIVE = """(selector) => {
  const wanted = document.querySelector(selector), now = document.activeElement;
  if (!wanted) return "missing";
  if (now === wanted) return "there";
  if (!wanted.checkVisibility()) return "hidden";
  return now.compareDocumentPosition(wanted) & Node.DOCUMENT_POSITION_PRECEDING ? "before" : "after";
}"""
CHOICES = """(selector) => {
  const list = document.querySelector(selector);
  const options = Array.from(list.options);
  return [list.selectedIndex, options.map((one) => one.textContent), options.map((one) => one.value)];
}"""
HELD = """() => {
  const now = document.activeElement;
  const at = now.id || now.dataset.field || now.dataset.key || now.name || "";
  return now === document.body ? "" : `${now.tagName} ${at} ${(now.ariaLabel || now.textContent).slice(0, 40)}`;
}"""


class Stumble(AssertionError):
    """Something that a person would trip over."""


class Hands:
    """What both ways share. ``page`` is one of playwright's."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.stumbles: list[str] = []

    def still(self) -> None:
        """Wait until nothing is at work."""
        self.page.wait_for_timeout(60)
        self.page.wait_for_function(
            "() => document.getElementById('work').hidden && !/…$/.test(document.getElementById('status').textContent)",
            timeout=PATIENCE_MS,
        )

    def told(self, words: str, place: str = "#status") -> None:
        """Wait until a place holds words."""
        self.page.locator(place, has_text=words).first.wait_for(timeout=PATIENCE_MS)

    def status(self) -> str:
        """Return what the page says."""
        return str(self.page.inner_text("#status"))

    def focus_kept(self, what: str) -> None:
        """Note it where the focus is nowhere after a step."""
        if not self.page.evaluate(HELD):
            self.stumbles.append(f"{what}: the focus is lost")


class Keys(Hands):
    """By keys alone: what is wanted is reached with Tab."""

    def __init__(self, page: Any) -> None:
        super().__init__(page)
        self.presses = 0

    def reach(self, selector: str) -> None:
        """Go to a control. Raises Stumble where Tab does not come to it."""
        for _ in range(MOST_TABS):
            where = self.page.evaluate(ACTIVE, selector)
            if where == "there":
                self._seen(selector)
                return
            if where in ("missing", "hidden"):
                raise Stumble(f"{selector} is {where}")
            self.key("Tab" if where == "after" else "Shift+Tab")
        raise Stumble(f"{selector} is not reached with Tab")

    def _seen(self, selector: str) -> None:
        """WCAG 2.2, 2.4.7 and 2.4.11: the focus shows, and is not hidden by what else there is."""
        shown = self.page.evaluate(
            """(selector) => {
              const one = document.querySelector(selector), box = one.getBoundingClientRect();
              const style = getComputedStyle(one), x = box.x + box.width / 2, y = box.y + box.height / 2;
              const inside = (v, most) => Math.min(most - 2, Math.max(1, v));
              const top = document.elementFromPoint(inside(x, innerWidth), inside(y, innerHeight));
              return [style.outlineStyle !== "none", !top || one.contains(top) || top.contains(one)];
            }""",
            selector,
        )
        if not shown[0]:
            self.stumbles.append(f"{selector}: the focus does not show")
        if not shown[1]:
            self.stumbles.append(f"{selector}: something lies over the focus")

    def key(self, key: str) -> None:
        """Press a key."""
        self.presses += 1
        self.page.keyboard.press(key)

    def press(self, selector: str) -> None:
        """Press a button."""
        self.reach(selector)
        self.key("Enter")

    def fill(self, selector: str, text: str, *, enter: bool = False) -> None:
        """Type into a field, and leave it."""
        self.reach(selector)
        self.key("Control+a")
        self.page.keyboard.type(text)
        self.key("Enter" if enter else "Tab")

    def pick(self, selector: str, option: str) -> None:
        """Choose of a list, by the arrow keys."""
        self.reach(selector)
        at, texts, values = self.page.evaluate(CHOICES, selector)
        to = values.index(option) if option in values else texts.index(option)
        for _ in range(abs(to - at)):
            self.key("ArrowDown" if to > at else "ArrowUp")

    def hold(self, way: str) -> None:
        """Hold the print another way: by the arrow keys from the way that stands."""
        ways = ["garment", "flat", "film", "art"]
        now = self.page.evaluate("() => document.querySelector('[name=look]:checked').value")
        self.reach(f'[name="look"][value="{now}"]')
        for _ in range((ways.index(way) - ways.index(now)) % len(ways)):
            self.key("ArrowRight")

    def files(self, selector: str, *paths: Path) -> None:
        """Choose files; the window that asks for them is the system's own."""
        self.reach(selector)
        with self.page.expect_file_chooser(timeout=PATIENCE_MS) as chooser:
            self.key("Space")
        chooser.value.set_files([str(path) for path in paths])


class Pointer(Hands):
    """With a pointer."""

    def reach(self, selector: str) -> None:
        """Look at a control."""
        self.page.locator(selector).first.scroll_into_view_if_needed()

    def press(self, selector: str) -> None:
        """Press a button, also one that is told as disabled."""
        control = self.page.locator(selector).first
        control.click(force=control.get_attribute("aria-disabled") == "true")

    def fill(self, selector: str, text: str, *, enter: bool = False) -> None:
        """Type into a field, and leave it."""
        self.page.locator(selector).first.fill(text)
        self.page.keyboard.press("Enter" if enter else "Tab")

    def pick(self, selector: str, option: str) -> None:
        """Choose of a list."""
        _, texts, values = self.page.evaluate(CHOICES, selector)
        value = option if option in values else values[texts.index(option)]
        self.page.select_option(selector, value=value)

    def hold(self, way: str) -> None:
        """Hold the print another way."""
        self.page.locator(f'[name="look"][value="{way}"]').check()

    def files(self, selector: str, *paths: Path) -> None:
        """Choose files."""
        self.page.set_input_files(selector, [str(path) for path in paths])


Step = Callable[[Hands], None]
