"""The appendix of a job tells what to buy, mix and burn, and what it costs."""

from __future__ import annotations

from sepkit.press.cautions import job_cautions
from sepkit.sheets.blocks import Cautions, Cell, Gate, Notes, Paragraph, Section, Sheet, Table
from sepkit.sheets.html import html_page
from tests.helpers.sheet_content import GOLD, job_of


def section(sheet: Sheet, title: str) -> Section:
    return next(one for one in sheet.sections if one.title == title)


def table_of(sheet: Sheet, title: str, number: int = 0) -> list[list[str]]:
    tables = [block for block in section(sheet, title).blocks if isinstance(block, Table)]
    return [[cell.text if isinstance(cell, Cell) else cell for cell in row] for row in tables[number].rows]


def test_what_it_tells_in_order() -> None:
    assert [one.title for one in job_of().sections] == [
        "At a glance",
        "Prints",
        "To know first",
        "To buy",
        "Screens",
        "Films",
        "Ink cups",
        "Before the run",
        "The order",
        "Flash and cure",
        "Take care",
        "Time and money",
        "How the ink adds up",
    ]
    assert job_of().sub == "10 garments, 1 print, 1 screen, 44 min of work alone, on two-head"


def test_what_comes_before_the_run() -> None:
    sheet = job_of()
    gate = section(sheet, "Before the run").blocks[0]
    assert isinstance(gate, Gate) and "(black tee)" in gate.lines[0]
    care = job_cautions(flashes=True, discharge=False, children=False, labels=False)
    assert section(sheet, "Take care").blocks == (Cautions(tuple(care)),)
    (words,) = section(sheet, "The order").blocks
    assert isinstance(words, Paragraph) and "no order takes less time" in words.text


def test_tables_add_up() -> None:
    sheet = job_of()
    assert table_of(sheet, "To buy")[0] == ["black tee", "front", "10", "2", "0", "12", "5.0%", "97%"]
    assert table_of(sheet, "To buy")[-1] == ["all", "", "10", "2", "0", "12", "", ""]
    ink = table_of(sheet, "Ink cups")[0]
    assert ink[1:] == ["100", "0", "100", "45", "5", "50", "yellow 90 g, red 10 g"]
    assert ink[0] == f"gold {GOLD}"
    assert table_of(sheet, "Time and money")[-1] == ["all, alone", "44"]
    assert table_of(sheet, "Time and money", 1) == [
        ["screens", "6.00", "0.60"],
        ["garment", "45.00", "4.50"],
        ["all", "51.00", "5.10"],
    ]
    assert table_of(sheet, "How the ink adds up")[-1] == ["to stage", "", "100.0"]


def test_findings_the_serious_first() -> None:
    notes = section(job_of(), "To know first").blocks[0]
    assert isinstance(notes, Notes)
    assert [finding.level for finding in notes.findings] == ["error", "info"]


def test_pictures_of_prints_and_screens_are_inside() -> None:
    assert html_page(job_of()).count("data:image/png") == 2
