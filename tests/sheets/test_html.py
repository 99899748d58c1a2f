"""Blocks to HTML: whatever the texts hold, the page stays one page of text that loads nothing."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from sepkit.model import Finding
from sepkit.sheets.blocks import (
    Block,
    Bullets,
    Cautions,
    Cell,
    Column,
    FilmNote,
    Gate,
    Heading,
    Notes,
    Paragraph,
    Picture,
    Pictures,
    PressStep,
    Section,
    Sheet,
    Steps,
    Swatch,
    Swatches,
    Table,
)
from sepkit.sheets.html import LONGEST_WHOLE, LONGEST_WORD, SHORT_TABLE, html_page, with_film_note
from sepkit.sheets.style import STYLE
from tests.helpers.sheet_content import job_of, png, print_of

EVIL = '</style></p>"><script>alert("x")</script><img src=http://e.test/x onerror=a> & \'ink\' <div id="film-note">'
VOID = ("meta", "img", "wbr")

BLOCKS: dict[str, Block] = {
    "heading": Heading(EVIL),
    "paragraph": Paragraph(EVIL),
    "small paragraph": Paragraph(EVIL, small=True),
    "bullets": Bullets((EVIL, EVIL)),
    "gate": Gate(EVIL, (EVIL, EVIL)),
    "gate without a title": Gate("", (EVIL,)),
    "cautions": Cautions((EVIL,)),
    "notes": Notes((Finding("a", "error", EVIL, EVIL), Finding("b", "warn", EVIL), Finding("c", "info", EVIL))),
    "table": Table(
        (EVIL, Column(EVIL, "number"), Column(EVIL, "whole")),
        ((Cell(EVIL, swatch=(255, 0, 0), tick=True, strong=True), "3", EVIL), ("all", "3", "")),
        sums=1,
    ),
    "swatches": Swatches((Swatch((1, 2, 3), EVIL, EVIL),)),
    "grid": Pictures((Picture(png(), EVIL), Picture(png(), EVIL, "image/jpeg"))),
    "pair": Pictures((Picture(png(), EVIL), Picture(png(), EVIL)), "pair"),
    "full": Pictures((Picture(png(), EVIL),), "full"),
    "strip": Pictures((Picture(png(), EVIL),), "strip"),
    "steps": Steps((PressStep(EVIL, (EVIL, EVIL), (EVIL,), (9, 9, 9)), PressStep(EVIL, ()))),
    "steps without numbers": Steps((PressStep(EVIL, (EVIL,)),), numbered=False),
    "film note": FilmNote(EVIL),
}


class Page(HTMLParser):
    """Tags, attributes and text of a page, places to break left out; a tag closed out of turn fails."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.text: list[str] = []
        self.broken = False
        self.feed(page)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.broken = tag == "wbr"
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.broken and self.text:
            self.text[-1] += data
        else:
            self.text.append(data)
        self.broken = False


def page_of(*blocks: Block, at_press: bool = False) -> str:
    return html_page(Sheet("Kites", "sub", (Section("blocks", blocks, at_press),)))


def strange(page: str) -> list[str]:
    """Return whatever runs or loads: a tag, a handler, an address."""
    read = Page(page)
    tags = [tag for tag in read.seen if tag in ("script", "link", "iframe", "object", "embed", "form", "base")]
    handlers = [name for name, _ in read.attributes if name.startswith("on")]
    links = [v for name, v in read.attributes if name in ("src", "href", "action") and not v.startswith("data:image/")]
    styles = [v for name, v in read.attributes if name == "style" and not re.fullmatch(r"background:#[0-9a-f]{6}", v)]
    return [*tags, *handlers, *links, *styles]


@pytest.mark.parametrize("name", BLOCKS)
def test_hostile_text_is_text_in_every_block(name: str) -> None:
    page = page_of(BLOCKS[name])
    assert strange(page) == []
    said = [data for data in Page(page).text if EVIL in data]
    harmless = page_of(Paragraph("x"))
    assert said and page.count("<style>") == harmless.count("<style>") == 1


def test_every_kind_of_block_is_drawn_here() -> None:
    drawn = {type(block) for block in BLOCKS.values()}
    assert drawn == set(Block.__args__)  # type: ignore[attr-defined]


def test_what_is_no_block_is_refused() -> None:
    with pytest.raises(TypeError, match="no block of a sheet: str"):
        page_of("plain")  # type: ignore[arg-type]


def test_titles_and_sub_are_escaped_too() -> None:
    page = html_page(Sheet(EVIL, EVIL, (Section(EVIL, (Paragraph("x"),)),)))
    assert strange(page) == []
    assert sum(EVIL in data for data in Page(page).text) == 4  # the window's title, h1, sub, h2


@pytest.mark.parametrize("sheet", [print_of(EVIL), job_of(EVIL)], ids=["print", "job"])
def test_sheets_of_hostile_names_load_nothing(sheet: Sheet) -> None:
    page = html_page(sheet)
    assert strange(page) == []
    assert "e.test" in page
    assert not re.search(r"url\(|@import|expression\(", page)
    assert "default-src 'none'" in page


def test_both_sheets_have_the_one_style() -> None:
    styles = [re.findall(r"<style>\n(.*?)\n</style>", html_page(sheet), re.S) for sheet in (print_of(), job_of())]
    assert styles == [[STYLE], [STYLE]]


def test_every_class_has_a_style() -> None:
    pages = [page_of(*BLOCKS.values(), at_press=True), html_page(print_of()), html_page(job_of())]
    used = {
        word for page in pages for name, value in Page(page).attributes if name == "class" for word in value.split()
    }
    plain = {"notes"}  # as any list
    assert used - plain == {word for word in used if re.search(rf"\.{word}\b", STYLE)}


def test_paper_is_a4_and_rows_boxes_and_headings_hold_together() -> None:
    paper = STYLE[STYLE.index("@page") :]
    assert "size: A4" in paper
    assert "thead { display: table-header-group }" in paper
    assert re.search(r"\btr, li,[^}]*break-inside: avoid", paper)
    assert re.search(r"\bh2, h3,[^}]*break-after: avoid", paper)
    # 14 pt: capitals of 3.5 mm, for a metre away.
    assert re.search(r"\.press \.steps[^}]*font-size: 14pt", paper)
    # Boxes are borders: backgrounds are not printed.
    assert re.search(r"\.box \{[^}]*border: 1\.5px solid", STYLE)


def test_tick_boxes() -> None:
    box = '<span class="box"></span>'
    assert page_of(BLOCKS["gate"]).count(box) == 2
    assert page_of(BLOCKS["steps"]).count(box) == 2 + 2
    assert page_of(BLOCKS["table"]).count(box) == 1
    assert page_of(BLOCKS["bullets"]).count(box) == 0


def test_levels_are_words_not_colours() -> None:
    text = "".join(Page(page_of(BLOCKS["notes"])).text)
    assert text.count("Error:") == text.count("Warning:") == 1
    assert "Note:" not in text


def test_a_section_without_blocks_and_a_title_that_is_empty_leave_no_heading() -> None:
    page = html_page(Sheet("Kites", "sub", (Section("left out", ()), Section("", (Paragraph("told"),)))))
    assert "left out" not in page and "<h2>" not in page and "told" in page


def test_a_row_must_be_as_long_as_its_columns() -> None:
    with pytest.raises(ValueError, match="zip"):
        page_of(Table(("a", "b"), (("1",),)))


def test_whole_names_wrap_when_they_are_long_and_only_short_tables_stay_whole() -> None:
    fits, long = "a b" * (LONGEST_WHOLE // 3), "a b" * (LONGEST_WHOLE // 3) + "c"
    page = page_of(Table((Column("name", "whole"), Column("n", "number")), ((fits, fits), (long, long))))
    assert f'<td class="whole">{fits}</td><td class="number whole">{fits}</td>' in page
    assert f'<td>{long}</td><td class="number">{long}</td>' in page
    assert '<table class="short">' in page
    assert '<table class="short">' not in page_of(Table(("n",), (("1",),) * (SHORT_TABLE + 1)))


def test_words_without_end_may_break() -> None:
    word = "a" * LONGEST_WORD
    assert f"<p>{word} {word}<wbr>&amp;</p>" in page_of(Paragraph(f"{word} {word}&"))
    assert Page(page_of(Paragraph(word * 9))).text.count(word * 9) == 1


def test_the_film_note_is_put_in_and_replaced_and_never_doubled() -> None:
    page = html_page(print_of(EVIL))
    note = "made again: 300 dpi <b>&"
    once = with_film_note(page, note)
    assert note in Page(once).text
    assert with_film_note(with_film_note(page, "older"), note) == once
    assert with_film_note(once, "") == page
    assert strange(once) == []


def test_a_page_without_a_place_for_the_note_is_left_alone() -> None:
    for page in ("", "<p>mine</p>", '<div id="film-note">cut off', html_page(job_of(EVIL))):
        assert with_film_note(page, "note") == page
