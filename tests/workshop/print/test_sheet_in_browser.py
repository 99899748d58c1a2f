"""Sheets in headless Chromium: they draw, and print on A4 with nothing cut off. Without it nothing is seen,
loudly; where CI=true that fails."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from sepkit.sheets.blocks import Bullets, FilmNote, Gate, Paragraph, Picture, Pictures, Section, Sheet, Table
from sepkit.sheets.html import html_page
from tests.helpers.sheet_content import cards_of, job_of, png, print_of, print_of_many

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
LONG = "x" * 300
"""A name without a place to break, as a file may have."""
DPI = 50
MARGIN_MM = 12


def seen_in_a_browser() -> bool:
    if CHROMIUM is None:
        text = "chromium is missing: the sheet was NOT seen in a browser"
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(text)
        sys.__stderr__.write(f"\n*** {text} ***\n")  # type: ignore[union-attr]
    return CHROMIUM is not None


def chromium(folder: Path, page: str, *flags: str) -> None:
    (folder / "sheet.html").write_text(page, encoding="utf-8")
    quiet = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking")
    profile = f"--user-data-dir={folder / 'profile'}"
    command = [str(CHROMIUM), *quiet, profile, *flags, f"file://{folder}/sheet.html"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr


def printed(folder: Path, page: str) -> pypdfium2.PdfDocument:
    chromium(folder, page, "--no-pdf-header-footer", f"--print-to-pdf={folder / 'sheet.pdf'}")
    return pypdfium2.PdfDocument((folder / "sheet.pdf").read_bytes())


def lines_of(pdf: pypdfium2.PdfDocument) -> list[list[str]]:
    """Return the lines of each page without its number."""
    pages = [pdf[n].get_textpage().get_text_bounded().splitlines() for n in range(len(pdf))]
    return [[line for line in lines if line.strip() and not re.fullmatch(r"\d+ / \d+", line)] for lines in pages]


def title_height_pt(pdf: pypdfium2.PdfDocument) -> float:
    page = pdf[0].get_textpage()
    _, bottom, _, top = page.get_charbox(page.get_text_range().index("K"))
    return float(top - bottom)


def ink_in_the_margins(pdf: pypdfium2.PdfDocument) -> int:
    """Return how many pixels are not white left and right of the text, on all pages."""
    edge = int(MARGIN_MM / 25.4 * DPI) - 1
    count = 0
    for number in range(len(pdf)):
        grey = np.asarray(pdf[number].render(scale=DPI / 72).to_pil().convert("L"))
        count += int((grey[:, :edge] < 250).sum() + (grey[:, -edge:] < 250).sum())
    return count


def test_a_screen_shows_the_pictures(tmp_path: Path) -> None:
    if not seen_in_a_browser():
        return
    picture = Picture(png(), "red")
    page = html_page(Sheet("Kites", "sub", (Section("Pictures", (Pictures((picture,) * 3), FilmNote())),)))
    chromium(tmp_path, page, "--window-size=1000,900", f"--screenshot={tmp_path / 'shot.png'}")
    shot = np.asarray(Image.open(tmp_path / "shot.png").convert("RGB")).astype(int)
    red = (abs(shot - (200, 30, 30)).sum(axis=2) < 30).sum()
    assert red == pytest.approx(3 * 60 * 40, rel=0.1)


@pytest.mark.parametrize("make", [print_of, job_of, cards_of])
def test_names_without_end_stay_on_a4(tmp_path: Path, make: Callable[[str], Sheet]) -> None:
    if not seen_in_a_browser():
        return
    usual = printed(tmp_path, html_page(make("K")))
    height = title_height_pt(usual)
    assert height > 8
    long = printed(tmp_path, html_page(make("K" + LONG)))
    for pdf in (usual, long):
        assert {tuple(round(v * 25.4 / 72) for v in pdf[n].get_size()) for n in range(len(pdf))} == {(210, 297)}
        assert ink_in_the_margins(pdf) == 0
    # A browser shrinks a page that something makes too wide.
    assert title_height_pt(long) == pytest.approx(height, rel=0.02)


@pytest.mark.parametrize("screens", [1, 5, 14])
def test_a_print_is_two_pages_of_a4_whatever_it_takes(tmp_path: Path, screens: int) -> None:
    if not seen_in_a_browser():
        return
    pdf = printed(tmp_path, html_page(print_of_many(screens)))
    assert len(pdf) == 2
    first, second = (" ".join(lines) for lines in lines_of(pdf))
    assert "Screens in print order" in first and "below the collar" in first and "To know" in first
    assert "At the press" in second and f"Screen {screens}, burnt orange {screens}" in second and "Take care" in second
    assert "light before dark" not in first + second, "reasons are folded"


def test_nothing_is_cut_off_and_no_heading_stands_alone(tmp_path: Path) -> None:
    if not seen_in_a_browser():
        return
    tall = Picture(png(300, 900), "a tall picture")
    sections = []
    for number in range(24):
        blocks = (
            Table(("row", "words"), tuple((f"row{number}x{k}", "word " * 20) for k in range(3 + number))),
            Bullets(tuple(f"line{number}x{k} " + "word " * 30 for k in range(number % 5 + 1))),
            Pictures((tall,), "full"),
        )
        at_press = number in (4, 5)
        chosen = (blocks[number % 3], Paragraph("after"), blocks[(number + 1) % 3], Gate("gate", (f"tick{number}",)))
        sections.append(Section(f"Heading{number}", chosen, at_press))
    pages = lines_of(printed(tmp_path, html_page(Sheet("Kites", "sub", tuple(sections)))))
    text = " ".join(" ".join(lines) for lines in pages)
    wanted = re.findall(r"(?:row|line|tick)\d+(?:x\d+)?|Heading\d+", html_page(Sheet("", "", tuple(sections))))
    assert [word for word in wanted if not re.search(rf"\b{word}\b", text)] == []
    assert len(pages) > 10
    assert [lines[-1] for lines in pages if lines[-1].startswith(("Heading", "row words"))] == []
    # What hangs at the press has pages of its own.
    first = next(n for n, lines in enumerate(pages) if "Heading4" in lines)
    after = next(n for n, lines in enumerate(pages) if "Heading6" in lines)
    assert pages[first][0] == "Heading4" and pages[after][0] == "Heading6"


@pytest.mark.parametrize(
    ("prints", "garments", "screens"), [(1, 1, 1), (2, 2, 2), (3, 4, 3), (2, 1, 6), (1, 2, 8), (5, 4, 4)]
)
def test_the_day_and_each_round_take_one_page(tmp_path: Path, prints: int, garments: int, screens: int) -> None:
    if not seen_in_a_browser():
        return
    pdf = printed(tmp_path, html_page(cards_of("K", prints=prints, garments=garments, screens=screens)))
    pages = lines_of(pdf)
    assert len(pages) == 1 + prints * garments
    assert pages[0][0] == "Kites and K"
    for number, lines in enumerate(pages[1:], 1):
        assert lines[0].startswith(f"Round {number} of {prints * garments}: ")
        text = " ".join(lines)
        assert "misprints" in text and "Minutes" in text and "Heat press and flash burn" in text
        assert text.count("flash between") == screens
    assert ink_in_the_margins(pdf) == 0
