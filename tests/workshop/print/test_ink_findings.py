"""Inks that are nearly one, and the pale rim of cut-out art: told where they are, not where they are not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from skimage.draw import disk

from sepkit.model import Artwork, Finding
from sepkit.workshop.print.ink_findings import InkFound
from sepkit.workshop.print.ink_findings import ink_findings as findings_on
from tests.helpers.print_plans import plan, save
from tests.helpers.shelf import find_garment

Rgb = tuple[int, int, int]

RED, WHITE, CREAM = (190, 40, 50), (255, 255, 255), (250, 246, 235)
SIDE = 900  # 3 inches at 300 dpi


def ink_findings(inks: list[InkFound], art: Artwork, garment: str = "navy tee") -> list[Finding]:
    return findings_on(inks, art, find_garment(garment))


def round_art(rim_px: int, *, inside: bool = False) -> tuple[list[InkFound], Artwork]:
    """A red disk cut out with ``rim_px`` of white left around it, or a white disk inside a red one."""
    whole, red = (np.zeros((SIDE, SIDE), np.uint8) for _ in range(2))
    whole[disk((450, 450), 300)] = 255
    red[disk((450, 450), 300 - (0 if inside else rim_px))] = 255
    if inside:
        red[disk((450, 450), 100)] = 0
    white = np.where(red > 0, 0, whole).astype(np.uint8)
    art = Artwork(np.zeros((SIDE, SIDE, 3), np.uint8), whole, 76.2, 76.2, "disk.png")
    return [InkFound("red", RED, red, False), InkFound("white", WHITE, white, False)], art


@pytest.mark.parametrize("rim_px", [1, 2, 4, 6])
def test_a_pale_rim_along_the_cut_is_told(rim_px):
    inks, art = round_art(rim_px)
    (told,) = ink_findings(inks, art)
    assert (told.code, told.level) == ("pale-rim", "warn")
    assert "white prints only as a pale hairline" in told.text
    assert "along 100 %" in told.more and "--inks 1" in told.more
    right, down = told.place_mm or (0, 0)
    assert abs(np.hypot(right - 38.1, down - 38.1) - 25.4) < 0.7


@pytest.mark.parametrize("rim_px", [0, 16, 40])
def test_no_rim_and_an_outline_that_is_meant_say_nothing(rim_px):
    assert ink_findings(*round_art(rim_px)) == []


def test_white_inside_and_white_line_art_are_no_rim():
    assert ink_findings(*round_art(0, inside=True)) == []
    line = np.zeros((SIDE, SIDE), np.uint8)
    line[100:800, 300:304] = line[100:104, 100:800] = 255
    art = Artwork(np.zeros((SIDE, SIDE, 3), np.uint8), line, 76.2, 76.2, "lines.png")
    assert ink_findings([InkFound("white", WHITE, line, False)], art) == []


def test_opaque_art_is_not_looked_at_for_a_rim():
    inks, art = round_art(2)
    whole = Artwork(art.rgb, np.full_like(art.alpha, 255), 76.2, 76.2, "flat.png")
    assert ink_findings(inks, whole) == []


def test_two_creams_are_nearly_one_ink_and_red_is_none_of_them():
    some = np.full((10, 10), 255, np.uint8)
    art = Artwork(np.zeros((10, 10, 3), np.uint8), some, 10.0, 10.0, "creams.png")
    inks = [InkFound("cream", CREAM, some, True), InkFound("cream 2", (250, 240, 220), some, True)]
    (told,) = ink_findings([*inks, InkFound("red", RED, some, True)], art)
    assert told.code == "near-inks" and told.text.startswith("cream and cream 2 are nearly one ink: ΔE00")
    assert "--inks 2" in told.hint
    assert ink_findings([InkFound("a", WHITE, some, False), InkFound("b", RED, some, False)], art) == []


def test_black_on_a_black_hoodie_is_left_to_the_cloth():
    some = np.full((10, 10), 255, np.uint8)
    art = Artwork(np.zeros((10, 10, 3), np.uint8), some, 10.0, 10.0, "lines.png")
    inks = [InkFound("white", WHITE, some, False), InkFound("black", (0, 0, 0), some, False)]
    (told,) = ink_findings(inks, art, "black hoodie")
    assert told.code == "near-cloth" and "black hardly shows on black hoodie" in told.text
    assert told.hint.startswith('--inks "#ffffff" leaves it open')
    assert ink_findings(inks, art, "red tee") == []
    assert ink_findings(inks[1:], art, "black hoodie") == [], "an only ink is meant to show a little"


@pytest.mark.parametrize(
    ("garment", "ground", "first", "second", "box"),
    [
        ("black tee", (16, 33, 63), WHITE, WHITE, "one-colour-box"),
        ("white tee", (243, 236, 220), (200, 90, 39), (30, 70, 62), "printed-background"),
    ],
)
def test_a_ground_that_stays_cloth_is_not_told_as_a_box(
    tmp_path: Path, garment: str, ground: Rgb, first: Rgb, second: Rgb, box: str
) -> None:
    art = save(tmp_path, [((0, 0, 60, 40), ground), ((15, 10, 45, 16), first), ((15, 22, 45, 28), second)])
    for inks, code in (("auto", "ground-left-open"), ("all", box)):
        planned, _ = plan(art, garment, inks=inks)
        codes = {finding.code for finding in planned.separation.findings}
        assert codes & {"ground-left-open", "one-colour-box", "printed-background"} == {code}
