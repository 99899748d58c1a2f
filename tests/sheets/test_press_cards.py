"""What hangs at the press: the day on one page, then a card for each round with all that its printer needs."""

from __future__ import annotations

from sepkit.sheets.blocks import Cell, Gate, Heading, Notes, Paragraph, Pictures, Section, Table
from tests.helpers.sheet_content import GOLD, cards_of, content_of


def words_of(section: Section) -> str:
    out = [section.title]
    for block in section.blocks:
        if isinstance(block, Table):
            out += [cell.text if isinstance(cell, Cell) else cell for row in block.rows for cell in row]
        elif isinstance(block, Gate):
            out += [block.title, *block.lines]
        elif isinstance(block, (Paragraph, Heading)):
            out.append(block.text)
        elif isinstance(block, Notes):
            out += [finding.text for finding in block.findings]
    return "\n".join(out)


def test_a_card_for_each_round_after_the_day() -> None:
    sheet = cards_of(prints=2, garments=2)
    assert [one.page.split()[0] for one in sheet.sections] == ["day", *["card"] * 4]
    assert sheet.sub == "80 garments, 4 rounds, 1 screen; 44 min of work alone; 51 EUR"


def test_a_card_tells_where_what_how_much_and_how_many() -> None:
    text = words_of(cards_of().sections[1])
    for word in (
        "Round 1 of 1: front on black tee",
        "65 mm below the collar seam. 12 garments, about 24 min.",
        "hang screen 1, end",
        "screen 1, 43-80",
        f"gold {GOLD}",
        "90 + 25",
        "200 mm",
        "2 coats, flash between, flash after",
        "to print\n12\n12",
        "misprints",
        "heat press 165 °C, 40 s",
        "Minutes ______",
        "burn",
    ):
        assert word in text, word


def test_a_card_in_batches_tells_which_screen_comes_off() -> None:
    section = cards_of(screens=3).sections[1]
    text = words_of(section)
    assert "3 batches of 4: each garment stays on its platen until all 3 screens are on it." in text
    assert "Before pull 3: take off screen 2, the garments stay on their platens; hang screen 3" in text
    assert "3 screens hung again in all" in text
    (strip,) = [block for block in section.blocks if isinstance(block, Pictures)]
    assert len(strip.pictures) == 1 + 3


def test_the_day_tells_what_to_get_burn_mix_and_buy() -> None:
    text = words_of(cards_of(screens=2).sections[0])
    for word in ("blade of 200 mm: 2 more", "Screens to burn", "Inks to mix", "yellow 90 g, red 10 g", "Blanks to buy"):
        assert word in text, word
    assert "all, alone\n44 min" in text
    assert "washed and dried" in text


def test_few_warnings_stand_on_the_day_and_the_rest_is_counted() -> None:
    text = words_of(cards_of(prints=8).sections[0])
    assert "To know first (3 more in the appendix)" in text
    assert text.count("wrong") == 5


def test_nothing_to_change_is_said() -> None:
    content = content_of(garments=2)
    assert content.order.steps[1].changes == ()
    assert "nothing to change" in words_of(cards_of(garments=2).sections[2])
