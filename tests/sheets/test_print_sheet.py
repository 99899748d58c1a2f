"""The sheet of a print tells its screens, steps, cautions and pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sepkit.decisions import Rounds
from sepkit.model import Artwork, MixPart, Separation
from sepkit.press.cautions import cautions_for
from sepkit.sheets.blocks import (
    Bullets,
    Cautions,
    FilmNote,
    Notes,
    Pictures,
    Section,
    Sheet,
    Steps,
    Swatches,
    Table,
)
from sepkit.sheets.html import html_page
from sepkit.sheets.print_sheet import print_sheet
from tests.helpers.plates import garment
from tests.helpers.sheet_content import GOLD, plate, print_of


def section(sheet: Sheet, title: str) -> Section:
    return next(one for one in sheet.sections if one.title == title)


def test_steps_tell_ink_coats_flash_and_rounds() -> None:
    steps = section(print_of(), "At the press").blocks[0]
    assert isinstance(steps, Steps)
    base, gold = steps.steps[1:3]
    assert base.title.startswith("Screen 1, underbase: white, 2 coats, flash between, garment not moved; flash until")
    assert base.before == ()
    assert gold.title == f"Screen 2, gold: mixed to {GOLD}, one coat"
    assert gold.before[0] == "change screens for round 2"
    assert gold.before[1].startswith("leave the garment on the platen")
    loose = section(print_of(parted=False), "At the press").blocks[0]
    assert isinstance(loose, Steps)
    assert loose.steps[2].before[1].startswith("the garment may be taken off")


def test_screens_in_print_order() -> None:
    table = section(print_of(), "Screens in print order").blocks[0]
    assert isinstance(table, Table)
    first, second = table.rows
    assert first[2:7] == ("white", "70 g", "2, then flash", "43-80 (109 tpi)", "solid")
    assert second[2] == f"mixed to {GOLD}" and second[6] == "45 lpi, 22.5°, ellipse"
    reasons = section(print_of(), "Why so")
    assert reasons.folded and isinstance(reasons.blocks[0], Table)
    assert reasons.blocks[0].rows[0] == ("underbase", "20.0 %", "why of underbase", "the round ends here")


def test_a_mixed_ink_is_told_in_grams_in_its_row() -> None:
    black = replace(plate(1, "sand", "#c8b48c", round_number=1), name="sand")
    parts = (MixPart("white", 0.75), MixPart("gold ochre", 0.25))
    mixed = replace(black, ink=replace(black.ink, parts=parts))
    art = Artwork(np.zeros((4, 4, 3), np.uint8), np.full((4, 4), 255, np.uint8), 120, 100, "a.png")
    sheet = print_sheet(
        Separation(art, garment(), (mixed,), 0.0, 0.0),
        choices={},
        rounds=Rounds(((0,),), ()),
        order_why="",
        pictures={},
        where="full front, 75 mm below the collar",
    )
    table = section(sheet, "Screens in print order").blocks[0]
    assert isinstance(table, Table)
    (row,) = table.rows
    whole = float(str(row[3]).split()[0])
    assert row[2] == f"mix white {0.75 * whole:g} g, gold ochre {0.25 * whole:g} g"
    assert sheet.sub.endswith("1 screen · full front, 75 mm below the collar")


def test_an_ink_known_by_its_colour_says_how_to_mix_it() -> None:
    swatches = section(print_of(), "Inks to be mixed").blocks[-1]
    assert isinstance(swatches, Swatches)
    (row,) = swatches.rows
    assert row.text == "gold" and row.command == f'sepkit ink match "{GOLD}" --on "plain"'


def test_findings_the_serious_first_with_colours_called_by_their_words() -> None:
    notes = section(print_of(), "To know").blocks[0]
    assert isinstance(notes, Notes)
    assert [finding.level for finding in notes.findings] == ["warn", "info"]
    assert notes.findings[0].text.startswith("gold")


def test_the_way_chosen_is_told_in_words() -> None:
    table = section(print_of(), "How each ink could go").blocks[0]
    assert isinstance(table, Table)
    assert [cell.text for cell in table.rows[0][1:] if not isinstance(cell, str)] == ["5.9", "0.6, chosen"]


def test_cautions_hang_with_the_steps() -> None:
    sheet = print_of()
    care = section(sheet, "Take care")
    assert care.blocks == (Cautions(tuple(cautions_for(flashes=True))),)
    assert [one.title for one in sheet.sections if one.at_press] == ["At the press", "Take care"]


def test_pictures_that_are_there_and_a_place_for_the_film_note() -> None:
    sheet = print_of()
    pictures = [
        p for one in sheet.sections for block in one.blocks if isinstance(block, Pictures) for p in block.pictures
    ]
    assert [p.caption.split(":")[0] for p in pictures] == ["Predicted print at its place and size", "Out of register"]
    assert sum(isinstance(block, FilmNote) for one in sheet.sections for block in one.blocks) == 1
    assert html_page(sheet).count("data:image/png") == 2


def test_no_rounds_no_choices_no_findings() -> None:
    black = plate(2, "black", "black", round_number=1)
    art = Artwork(np.zeros((4, 4, 3), np.uint8), np.full((4, 4), 255, np.uint8), 120, 100, "a.png")
    separation = Separation(art, garment(), (black,), 0.0, 0.0)
    sheet = print_sheet(separation, choices={}, rounds=Rounds(((0,),), ()), order_why="", pictures={})
    page = html_page(sheet)
    assert "Rounds" not in page and "How each ink could go" not in page and "Before screens are exposed" not in page
    assert section(sheet, "To know").blocks == (Bullets(("nothing stood out",)),)
    assert len(section(sheet, "Screens in print order").blocks) == 1
    assert "Flash and heat gun" not in page and sheet.sub.endswith("· 1 screen")
