from __future__ import annotations

import re
from html.parser import HTMLParser

from sepkit.sheets.job_sheet import (
    Cell,
    Lines,
    Notes,
    Picture,
    Pictures,
    PressStep,
    Section,
    Steps,
    Table,
    job_sheet,
)

EVIL = "<script>alert(\"x\")</script> & 'ink'"


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]
        if tag not in ("meta", "img", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def sheet() -> str:
    table = Table((EVIL, "n"), ((Cell(EVIL, chip="#ff0000", tick=True), Cell("3", number=True)), ("all", "3")), sums=1)
    sections = [
        Section(EVIL, (EVIL, table, Lines((EVIL,)), Lines((EVIL, "b"), ticks=True), Lines(("c",), gate=EVIL))),
        Section("p", (Pictures((Picture(b"\x89PNG", EVIL),)), Notes((("warning", EVIL, EVIL),)))),
        Section("s", (Steps((PressStep(EVIL, (EVIL,), (EVIL, "d")),)),)),
        Section("left out", ()),
    ]
    return job_sheet(EVIL, EVIL, sections)


def test_texts_are_escaped_and_tags_close() -> None:
    tags = Tags()
    tags.feed(sheet())
    assert tags.open == []
    assert "script" not in tags.seen
    assert "left out" not in sheet()


def test_nothing_is_loaded_from_outside() -> None:
    tags = Tags()
    tags.feed(sheet())
    assert all(link.startswith("data:") for link in tags.links)
    assert not re.search(r"url\(|@import|https?://", sheet())


def test_every_tick_box_is_drawn() -> None:
    assert sheet().count('<span class="box"></span>') == 1 + 2 + 1 + 3


def test_a4_print_style() -> None:
    assert "size: A4" in sheet()
    assert "@media print" in sheet()
