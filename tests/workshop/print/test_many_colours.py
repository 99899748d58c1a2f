"""Flat art of more hues than screens: dots of a few inks, lines solid; what stays bare cloth is told."""

from __future__ import annotations

import colorsys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from skimage.color import deltaE_ciede2000, rgb2lab

from sepkit.decisions import PrintEdits
from sepkit.files.shelf.shelf import Shelf
from sepkit.plates.knee import OPEN, Stand, hues_left_open
from sepkit.workshop.print.ladder import ladder_of
from sepkit.workshop.print.many_colours import settled
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import PlannedPrint, edited_again, plan_print, read_art, separated
from tests.helpers.print_plans import BLUE, RED, YELLOW, plan, save

LINE = (30, 30, 34)
COUNT = 10


def _colour(k: int) -> tuple[int, int, int]:
    r, g, b = colorsys.hsv_to_rgb(k / COUNT, 0.8, 0.9 if k % 2 else 0.65)
    return round(255 * r), round(255 * g), round(255 * b)


def _pennants(folder: Path) -> Path:
    picture = Image.new("RGBA", (300, 140))
    draw = ImageDraw.Draw(picture)
    for k in range(COUNT):
        x, y = 4 + 58 * (k % 5), 4 + 62 * (k // 5)
        draw.rectangle((x, y, x + 50, y + 50), fill=(*_colour(k), 255))
    draw.rectangle((0, 130, 299, 134), fill=(*LINE, 255))
    path = folder / "pennants.png"
    picture.save(path)
    return path


def _plan(path: Path, cloth: str, **asked: object) -> PlannedPrint:
    options = PrintOptions(art=path, garment=cloth, width_mm=250.0, **asked)  # type: ignore[arg-type]
    return plan_print(options, bench_of(options, Shelf()))


@pytest.fixture(scope="module")
def pennants(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _pennants(tmp_path_factory.mktemp("pennants"))


@pytest.fixture(scope="module")
def dotted(pennants: Path) -> PlannedPrint:
    return _plan(pennants, "white tee")


def _seen(planned: PlannedPrint, k: int) -> np.ndarray:
    factor = 300 / planned.seen.printed.shape[1]
    x, y = (4 + 58 * (k % 5) + 25) / factor, (4 + 62 * (k // 5) + 25) / factor
    return rgb2lab(planned.seen.printed[round(y), round(x)][None, None] / 255)[0, 0]


def test_ten_hues_print_in_dots_of_no_more_screens_and_nearer(dotted: PlannedPrint) -> None:
    assert dotted.found is not None and dotted.found.instead is not None
    solid = dotted.found.instead.solid
    assert len(dotted.plan.plates) <= solid.screens <= 6
    assert dotted.found.instead.dots_de00 < dotted.found.instead.solid_de00 - 2
    wish = [rgb2lab(np.array(_colour(k))[None, None] / 255)[0, 0] for k in range(COUNT)]
    away = [float(deltaE_ciede2000(wish[k], _seen(dotted, k))) for k in range(COUNT)]
    hue = [float(np.hypot(*(_seen(dotted, k) - wish[k])[1:])) for k in range(COUNT)]
    assert max(away) < 20 and np.mean(away) < 10, "no hue is lost"
    assert max(hue) < 60


def test_its_line_is_solid_and_of_one_ink(dotted: PlannedPrint) -> None:
    row = [plate for plate in dotted.plan.plates if plate.coverage[132].mean() > 200]
    assert [plate.ink.name for plate in row] == ["black"]
    assert row[0].tone is None or not row[0].tone[132].any()


def test_it_is_told_first_with_the_words_that_overrule_it(dotted: PlannedPrint) -> None:
    first = dotted.separation.findings[0]
    assert first.code == "kind-of-art" and "in dots of" in first.text and "--kind flat" in first.hint
    assert "solid inks: " in first.more


def test_solid_inks_stand_beside_it(dotted: PlannedPrint) -> None:
    ladder = ladder_of(dotted)
    assert ladder is not None and ladder.solid is not None
    called = [words for words, _ in ladder.named()]
    assert called[0] == ("Worth its screens",) and ("Solid inks",) in called
    assert ladder.printed.difference.mean_de00 < ladder.solid.difference.mean_de00


def test_a_change_of_nothing_keeps_both_and_a_number_is_not_overruled(dotted: PlannedPrint) -> None:
    same = edited_again(dotted, PrintEdits(), dotted.bench.wishes)
    assert same.found is not None and dotted.found is not None and same.found.instead is dotted.found.instead
    assert same.found.instead is not None
    options = dotted.options
    art, flat, bench = separated(read_art(options), options, bench_of(options, Shelf()))
    for edits in (PrintEdits(screens=3), PrintEdits(all_inks=True)):
        found = settled(flat.areas, art, flat, options, replace(bench, edits=edits))
        assert found.instead is None and found.choices is None


@pytest.mark.parametrize("asked", [{"kind": "flat"}, {"inks": "3"}, {"inks": "all"}, {"inks": "red,blue"}])
def test_what_is_asked_for_is_not_overruled(pennants: Path, asked: dict[str, str]) -> None:
    options = PrintOptions(art=pennants, garment="white tee", width_mm=250.0, **asked)  # type: ignore[arg-type]
    bench = bench_of(options, Shelf())
    art, flat, bench = separated(read_art(options), options, bench)
    found = settled(flat.areas, art, flat, options, bench)
    assert found.instead is None and found.choices is None and found.bench is bench


def test_a_logo_of_few_colours_stays_solid(tmp_path: Path) -> None:
    three = [((2, 2, 16, 38), YELLOW), ((16, 2, 30, 38), RED), ((30, 2, 44, 38), BLUE)]
    planned, _ = plan(save(tmp_path, three), "white tee", screens=2)
    assert all(plate.tone is None for plate in planned.plan.plates)


def test_a_strong_hue_that_stays_open_is_told(tmp_path: Path) -> None:
    three = [((2, 2, 16, 38), (20, 190, 235)), ((16, 2, 30, 38), RED), ((30, 2, 44, 38), BLUE)]
    planned, _ = plan(save(tmp_path, three), "white tee", screens=1)
    assert planned.found is not None and planned.found.choices is not None and planned.found.chosen is not None
    view, stands = planned.found.choices.view, planned.found.chosen.reduction.stands
    told = [f for f in planned.separation.findings if f.code == "hue-left-open"]
    assert hues_left_open(view, stands) == (0,)
    assert [finding.text for finding in told] == ["sky blue stays bare cloth"]
    assert hues_left_open(view, [Stand(OPEN)] * 3) == tuple(sorted(range(3), key=lambda k: -view.parts[k].sum()))
    assert hues_left_open(view, [Stand(k) for k in range(3)]) == ()
