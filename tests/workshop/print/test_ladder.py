from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sepkit.workshop.print.ladder import MUCH_DE00, ladder_finding, ladder_of
from sepkit.workshop.print.proof import ladder_picture, proofed
from tests.helpers.print_plans import BLUE, RED, WHITE, YELLOW, plan, save

FOUR = [((2, 2, 16, 38), YELLOW), ((16, 2, 30, 38), RED), ((30, 2, 44, 38), BLUE), ((44, 2, 58, 38), (40, 150, 140))]


@pytest.fixture
def art(tmp_path: Path) -> Path:
    return save(tmp_path, FOUR)


def test_each_rung_costs_what_it_says(art: Path) -> None:
    planned, _ = plan(art, "white tee")
    ladder = ladder_of(planned)
    assert ladder is not None
    assert [rung.inks for rung in ladder.rungs] == [1, 2, 3, 4]
    means = [rung.difference.mean_de00 for rung in ladder.rungs]
    assert means[0] > means[1] > means[2] > means[3]
    assert [len(rung.lost) for rung in ladder.rungs] == [3, 2, 1, 0]
    assert ladder.rungs[-1].difference.mean_de00 == pytest.approx(planned.separation.mean_de00, abs=0.3)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_rung_foretells_the_print_with_that_many_inks(art: Path, count: int) -> None:
    ladder = ladder_of(plan(art, "white tee")[0])
    asked = plan(art, "white tee", inks=str(count))[0].separation
    assert ladder is not None
    assert ladder.rungs[count - 1].difference.mean_de00 == pytest.approx(asked.mean_de00, rel=0.08, abs=0.3)
    assert ladder.rungs[count - 1].screens == len(asked.plates)


def test_what_one_load_would_lose_is_told_when_screens_exceed_the_heads(art: Path) -> None:
    made, proof = proofed(plan(art, "white tee", inks="all")[0])
    assert len(made.separation.plates) == 4
    told = next(f for f in made.separation.findings if f.code == "fewer-inks")
    assert "2 inks fit one load" in told.text
    assert "--screens 2" in told.hint
    assert proof.record["ladder"][1]["inks"] == 2
    assert {"ladder.png", "choices.png"} <= set(proof.pictures)
    roomy, _ = plan(art, "white tee", press="four-head", inks="all")
    ladder = ladder_of(roomy)
    assert ladder is not None and ladder_finding(ladder) is None


def test_inks_left_out_are_told(art: Path) -> None:
    made, _ = proofed(plan(art, "white tee", screens=2)[0])
    assert len(made.separation.plates) == 2
    told = next(f for f in made.separation.findings if f.code == "inks-left-out")
    assert "2 of 4 inks" in told.text and "--inks all" in told.hint
    assert told.level == "info", "it was asked for"


def test_inks_left_out_of_themselves_are_a_warning_where_much_changes(art: Path) -> None:
    ladder = ladder_of(plan(art, "white tee")[0])
    assert ladder is not None
    for rung in ladder.rungs[:-1]:
        told = ladder_finding(replace(ladder, worth=rung.choice, chosen=rung.choice))
        assert told is not None
        assert (told.level == "warn") == (rung.choice.reduction.lost >= MUCH_DE00) == ("seen to change" in told.text)
    assert ladder.rungs[0].choice.reduction.lost >= MUCH_DE00


def test_every_art_of_more_than_one_ink_has_a_ladder(tmp_path: Path, art: Path) -> None:
    assert ladder_of(plan(save(tmp_path, [((5, 5, 55, 35), WHITE)], name="one"))[0]) is None
    counted = ladder_of(plan(art, "white tee", inks="3")[0])
    assert counted is not None and counted.printed.inks == 3 and counted.rungs[-1].inks == 4
    named = ladder_of(plan(art, "white tee", inks="red,blue,yellow")[0])
    assert named is not None and [rung.inks for rung in named.rungs] == [1, 2, 3]


def test_the_picture_holds_the_art_and_every_rung(art: Path) -> None:
    planned, _ = plan(art, "white tee")
    ladder = ladder_of(planned)
    assert ladder is not None
    sheet = ladder_picture(ladder, planned)
    assert sheet.dtype == np.uint8 and sheet.ndim == 3
    flat = sheet.reshape(-1, 3)
    for colour in ladder.rungs[-1].colours:
        assert (np.abs(flat.astype(int) - colour).max(axis=1) <= 2).sum() > 500
    assert sheet.shape[1] > 4 * 260


def test_tones_have_a_ladder_too(tmp_path: Path) -> None:
    from PIL import Image

    fade = np.linspace(0, 1, 160, dtype=np.float32)[None, :, None]
    picture = (np.array(YELLOW) * (1 - fade) + np.array(BLUE) * fade).astype(np.uint8).repeat(120, axis=0)
    path = tmp_path / "fade.png"
    Image.fromarray(picture).save(path)
    planned = plan(path, "white tee")[0]
    ladder = ladder_of(planned)
    assert ladder is not None
    assert ladder.rungs[-1].difference.mean_de00 < ladder.rungs[0].difference.mean_de00
    screens = [rung.screens for rung in ladder.rungs]
    assert screens == sorted(set(screens)) and screens[0] == 1
    assert ladder.printed.screens == len(planned.separation.plates)
    assert ladder.printed.difference.mean_de00 == pytest.approx(planned.separation.mean_de00, abs=1.5)
    assert ladder.rungs[0].lost and ladder.within_heads is not None and ladder.within_heads.screens <= ladder.heads
