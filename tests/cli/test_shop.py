"""The shop is told once, and commands propose only what is in it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sepkit.files.shelf.shelf import Shelf
from sepkit.files.shelf.shop import shop_text
from sepkit.workshop.inks.match import MatchRequest, find_recipes
from sepkit.workshop.print.options import PrintOptions, bench_of
from tests.helpers.print_plans import BLUE, RED, save
from tests.helpers.runner import run

SHOP = """schema = "sepkit.shop/1"
press = "four-head"
register_error_mm = 0.2
film_dpi = 600
inks = ["white", "black", "Red", "yellow"]

[[frame]]
name = "big"
inside_width_mm = 457
inside_height_mm = 559
mesh = "55-64"
count = 3
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    (tmp_path / "mine.toml").write_text(SHOP, encoding="utf-8")
    return tmp_path


def test_a_shop_is_taken_from_a_file_shown_and_reads_back(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert Shelf().shop() is None
    assert run("shop", "--from", "mine.toml") == 0
    shop = Shelf().shop()
    assert shop is not None and shop.inks == ("white", "black", "red", "yellow") and shop.film_dpi == 600
    assert shop.frames[0].name == "big" and str(shop.frames[0].mesh) == "55-64"
    assert Shelf().shop_of(shop_text(shop), "again") == shop
    capsys.readouterr()
    assert run("shop", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["press"] == "four-head" and told["inks"] == list(shop.inks) and told["frames"][0]["count"] == 3


def test_prints_and_recipes_propose_only_what_is_owned(here: Path) -> None:
    art = save(here, [((5, 5, 28, 35), RED), ((30, 5, 55, 35), BLUE)])
    wide = bench_of(PrintOptions(art=art, garment="white tee"), Shelf())
    assert run("shop", "--from", "mine.toml") == 0
    bench = bench_of(PrintOptions(art=art, garment="white tee"), Shelf())
    assert {ink.name for ink in bench.shelf} == {"white", "black", "red", "yellow"} < {ink.name for ink in wide.shelf}
    assert bench.press.heads == 4 and bench.trap_mm == pytest.approx(0.2)
    assert [str(frame.mesh) for frame in bench.frames] == ["55-64"]
    asked = bench_of(PrintOptions(art=art, garment="white tee", press="two-head"), Shelf())
    assert asked.press.heads == 2
    best = find_recipes(MatchRequest("#8a5a30"), Shelf()).targets[0].best
    assert {dose.ink.name for dose in best.doses} <= {"white", "black", "red", "yellow"}


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (SHOP.replace("four-head", "six-head"), "no press of the shelf"),
        (SHOP.replace('"Red"', '"reed"'), "no ink of the shelf"),
        (SHOP.replace("55-64", "55"), "no mesh of the shelf"),
        (SHOP.replace("count = 3", "count = 0"), "count"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_written(
    here: Path, wrong: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "wrong.toml").write_text(wrong, encoding="utf-8")
    assert run("shop", "--from", "wrong.toml") == 3
    assert says in capsys.readouterr().err
    assert not (here / "recipes").exists()


def test_without_a_terminal_it_says_what_to_give(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("shop") == 2
    assert "--from FILE" in capsys.readouterr().err


WHOLE = (
    SHOP.replace("inks = [", "scale_step_g = 0.5\nflash_s = 14\ninks = [")
    + """
[[ink]]
name = "red"
opacity = "medium"

[[platen]]
width_mm = 360
height_mm = 500
count = 3

[[blade]]
width_mm = 300
shore_a = 65

[film]
sheet_width_mm = 432

[spoilage]
loss = 0.05
loss_by_placement = { "left chest" = 0.1 }

[money]
currency = "EUR"
hour = 18
"""
)


def test_all_of_a_shop_reads_back_and_reaches_prints_and_recipes(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "whole.toml").write_text(WHOLE, encoding="utf-8")
    plain = Shelf().ink("red")
    assert run("shop", "--from", "whole.toml") == 0
    shelf = Shelf()
    shop = shelf.shop()
    assert shop is not None and shelf.shop_of(shop_text(shop), "again") == shop
    assert shop.tables["spoilage"]["loss_by_placement"] == {"left chest": 0.1}
    bench = bench_of(PrintOptions(art=here / "none.png", garment="white tee"), shelf)
    red = next(ink for ink in bench.shelf if ink.name == "red")
    assert red.scattering[0] < 0.8 * plain.scattering[0], "the pot that is owned covers less than the shelf's guess"
    assert bench.ink("red").scattering[0] == red.scattering[0]
    assert (bench.press.platen_width_mm, bench.press.platens, bench.measured["flash_s"]) == (360, 3, 14)
    best = find_recipes(MatchRequest("#8a5a30", step_g=shop.scale_step_g), shelf).targets[0].best
    assert all((2 * dose.mass_g) % 1 == 0 for dose in best.doses)
    capsys.readouterr()
    assert run("ink", "match", "#8a5a30", "--json") in (0, 6)
    doses = json.loads(capsys.readouterr().out)["targets"][0]["recipes"][0]["grams"]
    assert all((2 * mass_g) % 1 == 0 for mass_g in doses)


def test_a_print_wider_than_the_films_is_told_and_commands_say_that_they_keep_to_the_shop(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    narrow = WHOLE.replace("sheet_width_mm = 432", "sheet_width_mm = 110")
    (here / "narrow.toml").write_text(narrow, encoding="utf-8")
    art = save(here, [((5, 5, 28, 35), RED)])
    assert run("shop", "--from", "narrow.toml") == 0
    capsys.readouterr()
    assert (
        run("separate", art, "--on", "white tee", "--width", "200mm", "--film-dpi", 150, "-o", "out", "--no-ladder")
        == 0
    )
    told = capsys.readouterr().err
    assert "only what your shop.toml owns is proposed" in told
    found = json.loads((here / "out" / "separation.json").read_text("utf-8"))["findings"]
    assert "wider-than-film" in {one["code"] for one in found}
    run("check", art, "--on", "white tee", "--width", "60mm")
    assert "only what your shop.toml owns is proposed" in capsys.readouterr().err


def test_a_job_takes_from_the_shop_what_it_does_not_say(here: Path) -> None:
    from sepkit.files.jobfile.jobfile import take_from_shop
    from sepkit.files.toml.read import parse_toml

    (here / "whole.toml").write_text(WHOLE, encoding="utf-8")
    assert run("shop", "--from", "whole.toml") == 0
    job = parse_toml("[money]\nhour = 30\n[press]\nheads = 2\n", where="job", what="a job")
    take_from_shop(job, Shelf())
    assert job.values["money"] == {"hour": 30}, "what the job says itself wins"
    assert job.values["blade"] == [{"width_mm": 300, "shore_a": 65}]
    assert job.values["film"] == {"dpi": 600, "sheet_width_mm": 432}
    assert job.values["screen"][0]["mesh"] == "55-64" and job.values["scale_step_g"] == 0.5
    assert job.values["press"]["heads"] == 2 and job.values["press"]["register_error_mm"] == 0.2
    (here / "whole.toml").write_text(WHOLE.replace("four-head", "Four-Head"), encoding="utf-8")
    assert run("shop", "--from", "whole.toml") == 0
    again = parse_toml("[press]\nheads = 2\n", where="job", what="a job")
    take_from_shop(again, Shelf())
    assert again.values["press"]["register_error_mm"] == 0.2, "in whatever letters its name is written"
    other = parse_toml('[press]\nname = "two-head"\n', where="job", what="a job")
    take_from_shop(other, Shelf())
    assert other.values["press"] == {"name": "two-head"}, "another press is not the shop's"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (WHOLE.replace("width_mm = 300", "width_mm = 3"), "blade"),
        (WHOLE.replace("loss = 0.05", "loss = 5"), "loss"),
        (WHOLE.replace('"medium"', '"thick"'), "opacity"),
        (WHOLE.replace("flash_s = 14", "flash_s = 1400"), "flash_s"),
        (WHOLE.replace("[money]", "[mony]"), "mony"),
    ],
)
def test_what_is_wrong_in_its_tables_is_told(
    here: Path, wrong: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "wrong.toml").write_text(wrong, encoding="utf-8")
    assert run("shop", "--from", "wrong.toml") == 3
    assert says in capsys.readouterr().err
