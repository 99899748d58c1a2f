"""The job and wedge commands: examples of their helps, one clear line for what is wrong, exit codes."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.helpers.runner import run

JOB = """schema = 1
title = "Kites"
[press]
name = "two-head"
platen_width_mm = 400
[film]
dpi = 150
[[screen]]
name = "large"
inside_width_mm = 400
inside_height_mm = 600
mesh = "62-60"
[[blade]]
width_mm = 200
[[garment]]
name = "white tee"
sizes = { M = 4 }
[[print]]
name = "label"
art = "sample:neck-label.svg"
placement = "neck label"
width_mm = 50
one_ink = "grey"
base = ["never"]
one_ink_from = "shape"
"""


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    return tmp_path


def test_new_explain_check(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("job", "--new", "drop.toml") == 0
    assert capsys.readouterr().out == "drop.toml\n"
    assert tomllib.loads((here / "drop.toml").read_text())["schema"] == 1
    assert run("job", "--new", "drop.toml") == 7
    assert run("job", "--explain") == 0
    assert "register_error_mm" in capsys.readouterr().out
    assert run("job", "drop.toml", "--check") == 0
    assert capsys.readouterr().err == "nothing stood out\n"
    wide = (here / "drop.toml").read_text().replace("platen_width_mm = 400", "platen_width_mm = 450")
    (here / "wide.toml").write_text(wide)
    assert run("job", "wide.toml", "--check") == 0
    assert "the platen, 450 mm, does not go into size S, 460 mm" in capsys.readouterr().err
    (here / "wide.toml").unlink()
    assert run("job") == 2
    assert run("job", "none.toml") == 3
    assert sorted(p.name for p in here.iterdir()) == ["drop.toml"]


def test_a_job_and_the_same_again(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "drop.toml").write_text(JOB)
    assert run("job", "drop.toml", "-o", "out") == 0
    said = capsys.readouterr()
    assert said.out == str(Path("out/sheet.html")) + "\n"
    assert "1 screen, 1 with one for each film" in said.err
    assert run("job", "drop.toml", "-o", "out", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["ok"] and told["unchanged"] and told["job"]["title"] == "Kites"


def test_every_problem_on_its_line(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "drop.toml").write_text(
        JOB.replace("grey", "gray1").replace("M = 4", "Q = 4").replace("inside_w", "insde_w")
    )
    assert run("job", "drop.toml", "-o", "out") == 3
    lines = capsys.readouterr().err.strip().splitlines()
    assert [line.split(":")[1] for line in lines] == ["8", "10", "17", "23"]
    assert all(line.startswith("drop.toml:") for line in lines)
    assert run("job", "drop.toml", "--json") == 3
    told = json.loads(capsys.readouterr().out)
    assert not told["ok"] and len(told["problems"]) == 4
    assert sorted(p.name for p in here.iterdir()) == ["drop.toml"]


def test_checks_that_fail_are_exit_8(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = JOB.replace('"neck label"', '"left sleeve"').replace("width_mm = 50", "width_mm = 140")
    (here / "drop.toml").write_text(text)
    assert run("job", "drop.toml", "-o", "out", "--json") == 8
    told = json.loads(capsys.readouterr().out)
    assert "larger-than-platen" in {finding["code"] for finding in told["findings"]}
    assert not (here / "out").exists()


def test_wedge_there_and_back(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("wedge", "-o", "wedge.pdf", "--film-dpi", 300) == 0
    assert capsys.readouterr().out == "wedge.pdf\nwedge.csv\n"
    assert (here / "wedge.pdf").read_bytes().startswith(b"%PDF")
    assert run("wedge", "-o", "wedge.pdf") == 7
    assert run("wedge", "--read", "wedge.csv", "--to", "presses.toml") == 3
    text = (here / "wedge.csv").read_text()
    text = text.replace("width,1.00,", "width,1.00,1.07").replace("width,0.50,", "width,0.50,0.57")
    text = (
        text.replace("register,,", "register,0.3,0.4", 1)
        .replace("\nline,", "\nline,0.35")
        .replace("scale,150,", "scale,150,149")
    )
    (here / "wedge.csv").write_text(text)
    assert run("wedge", "--read", "wedge.csv") == 2
    assert "SEPKIT_RECIPES" in capsys.readouterr().err
    assert run("wedge", "--read", "wedge.csv", "--to", "presses.toml") == 0
    said = capsys.readouterr()
    assert "a film bar of 150 mm measures 149 mm" in said.err
    (entry,) = tomllib.loads((here / "presses.toml").read_text())["press"]
    assert entry["name"] == "two-head"
    assert entry["register_error_mm"] == 0.5
    assert entry["edge_growth_um"] == pytest.approx(35, abs=0.2)
    assert entry["thinnest_line_mm"] == 0.35


def test_wedge_one_clear_line(here: Path) -> None:
    assert run("wedge", "-o", "wedge.png") == 2
    assert run("wedge", "--lpi", 30, "--lpi", 40, "--lpi", 50) == 2
    assert run("wedge", "--read", "none.csv", "--to", "p.toml") == 3
    assert run("wedge", "--read", "none.csv", "--press", "no such", "--to", "p.toml") == 5
    assert list(here.iterdir()) == []


def test_a_blank_sheet_is_told_before_anything_else(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("wedge", "--quiet") == 0
    assert run("wedge", "--read", "wedge.csv") == 3
    said = capsys.readouterr().err
    assert "wedge.csv: is still blank: no test has a reading" in said and "line,0.35" in said
    assert "Traceback" not in said and len(said.splitlines()) == 1


def test_check_takes_the_thinnest_line_that_was_measured(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    art = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40"><rect x="5" y="5" \
width="20" height="30" fill="#203060"/><rect x="35" y="5" width="0.45" height="30" fill="#203060"/></svg>'
    (here / "line.svg").write_text(art)
    words = ("check", "line.svg", "--mesh", "62-60", "--inks", "#203060", "--json")

    def thin() -> list[str]:
        capsys.readouterr()
        run(*words)
        found = json.loads(capsys.readouterr().out)["findings"]
        return [f["more"] for f in found if f["code"] == "thin-lines"]

    assert thin() == []
    (here / "read.csv").write_text("mesh,62-60\nline,0.6\n")
    (here / "own").mkdir()
    assert run("wedge", "--read", "read.csv", "--to", here / "own" / "presses.toml") == 0
    assert f"SEPKIT_RECIPES is {here / 'own'}" in capsys.readouterr().err
    monkeypatch.setenv("SEPKIT_RECIPES", str(here / "own"))
    (told,) = thin()
    assert "under 0.60 mm" in told and "measured on your press" in told


def test_shelf_lists_garments_meshes_and_presses(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("shelf") == 0
    said = capsys.readouterr().out
    assert all(word in said for word in ("black tee", "43-80", "109 tpi", "two-head", "sepkit wedge"))
    assert run("shelf", "garments", "--json") == 0
    record = json.loads(capsys.readouterr().out)
    assert "meshes" not in record
    assert {"name": "white hoodie", "shape": "hoodie"}.items() <= record["garments"][18].items()


def test_the_job_to_start_from_plans_without_a_warning_as_it_is(here: Path) -> None:
    assert run("job", "--new", "drop.toml") == 0
    text = (here / "drop.toml").read_text()
    (here / "drop.toml").write_text(text.replace("dpi = 720", "dpi = 240"))
    assert run("job", "drop.toml", "-o", "drop") == 0
    findings = json.loads((here / "drop" / "job.json").read_text())["findings"]
    assert [f["text"] for f in findings if f["level"] != "note"] == []
