"""What may go wrong around the page: two of them, art that changes, a full disk, too many plates; each in words."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import ArtworkError, UsageError, WriteError
from sepkit.page import desk as desks
from sepkit.page.desk import Desk
from sepkit.page.drop_desk import sheet_of
from sepkit.workshop.page.drop import job_values
from sepkit.workshop.page.hold import held
from sepkit.workshop.page.start import start_of
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.session import Session
from tests.helpers.page_server import serving


def badge(path: Path, colour=(200, 40, 40)) -> Path:
    rgba = np.zeros((40, 60, 4), np.uint8)
    rgba[5:35, 5:30] = (*colour, 255)
    rgba[5:35, 30:55] = (30, 60, 160, 255)
    Image.fromarray(rgba).save(path)
    return path


def test_a_second_page_is_told_who_holds_the_folder(tmp_path):
    with held(tmp_path):
        code = "from sepkit.cli.main import main; main()"
        command = [sys.executable, "-c", code, "page", str(tmp_path), "--no-open"]
        second = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert second.returncode == 7
    assert "another sepkit page works in this folder (process" in second.stderr
    assert len(second.stderr.strip().splitlines()) == 1
    with held(tmp_path):
        pass  # the lock ends with its holder


def test_art_that_changes_underneath_is_told_and_taken_in_when_asked(tmp_path):
    art = badge(tmp_path / "badge.png")
    with serving(art) as server:
        one = server.settled("1")
        assert one["state"]["garment"] == "black tee"
        change = {"do": "ink", "of": "#c82828", "set": {"name": "fire"}}
        one = server.ask("POST", "/api/print/1/edit", {"rev": one["rev"], "change": change}).json()
        assert "art_sha256" in (tmp_path / "sepkit-page" / "print-1.edits.toml").read_text()
        badge(art, (40, 200, 90))
        assert server.ask("GET", "/api/pulse").json()["prints"]["1"]["art_changed"] == "changed"
        refused = server.ask("POST", "/api/print/1/export", {"folder": "out"})
        assert refused.status == 422
        assert "badge.png was changed since it was laid on the table" in refused.json()["error"]
        again = server.ask("POST", "/api/print/1/again", {}).json()
        assert again["art_changed"] == ""
        assert any("not found" in finding["text"] for finding in again["state"]["findings"])
        art.unlink()
        assert server.ask("GET", "/api/pulse").json()["prints"]["1"]["art_changed"] == "gone"


def test_a_full_disk_keeps_the_change_in_memory_and_says_so(tmp_path, monkeypatch):
    desk = Desk(tmp_path)
    one = desk.add(PrintOptions(badge(tmp_path / "badge.png"), "white tee", width_mm=60))
    desk.open(one)
    try:

        def full(*_: object) -> None:
            raise WriteError("no space left on device", where="desk", hint="free some")

        monkeypatch.setattr(desks, "save_edits", full)
        of = one.state["areas"][0]["srgb"]
        desk.change(one, one.rev, {"do": "ink", "of": of, "set": {"name": "fire"}})
        assert one.edits["ink"][0]["name"] == "fire"
        assert "no space left" in one.shown()["trouble"]["error"]
        assert "not kept on the disk" in one.shown()["trouble"]["hint"]
        monkeypatch.setattr(desks, "save_desk", full)
        with pytest.raises(WriteError):
            desk.add(one.options)
        assert len(desk.prints()) == 1
    finally:
        desk.close()


def test_what_is_neither_art_nor_job_nor_folder_is_told(tmp_path):
    odd = tmp_path / "x.doc"
    odd.write_text("x")
    with pytest.raises(UsageError, match="neither art, nor a job file, nor a folder"):
        start_of(odd)
    with pytest.raises(UsageError, match="only art is laid"):
        start_of(tmp_path, garment="black tee")


JOB = """schema = 1
title = "Fair"
[press]
name = "two-head"
register_error_mm = 0.9
[[screen]]
name = "big"
inside_width_mm = 400
inside_height_mm = 500
mesh = "43-80"
count = 4
[[blade]]
width_mm = 250
[[garment]]
name = "white tee"
sizes = { M = 4 }
children = true
expected = 9
[[print]]
name = "front"
art = "badge.png"
placement = "full front"
width_mm = 100
"""


def test_a_job_file_is_opened_with_its_press_and_orders(tmp_path):
    badge(tmp_path / "badge.png")
    (tmp_path / "drop.toml").write_text(JOB)
    with serving(tmp_path / "drop.toml") as server:
        one = server.settled("1")
        assert one["of_job"] is True
        assert one["state"]["trap_mm"] == pytest.approx(0.9)
        drop = server.ask("GET", "/api/drop").json()
        assert (drop["title"], drop["garments"][0]["sizes"], drop["missing"]) == ("Fair", "M 4", "")
        assert server.ask("POST", "/api/drop/check", {}).status == 200
        change = {"do": "ink", "of": one["state"]["areas"][0]["srgb"], "set": {"name": "fire"}}
        one = server.ask("POST", "/api/print/1/edit", {"rev": one["rev"], "change": change}).json()
        assert server.ask("POST", "/api/drop/check", {}).status == 200
        beside = server.ask("POST", "/api/print/1/beside", {"inks": "1"}).json()
        assert (beside["inks"], beside["of_job"]) == ("1", True)
        assert server.ask("POST", "/api/print/1/beside", {"inks": "1"}).json()["id"] == beside["id"]
        assert server.ask("POST", f"/api/print/{beside['id']}/away", {}).status == 200  # while it is being opened
    assert (tmp_path / "drop.toml").read_text() == JOB  # the person's own file stays as it is
    written = tomllib.loads((tmp_path / "drop-page.toml").read_text())
    assert written["press"]["register_error_mm"] == 0.9
    assert written["garment"] == [{"name": "white tee", "sizes": {"M": 4}, "children": True, "expected": 9}]
    (tmp_path / "drop.toml").write_text("# looked at again\n" + JOB)
    for file in ("drop.toml", "drop-page.toml"):  # nothing else is said, or it is what the page wrote of this desk
        desk = Desk(tmp_path)
        desk.lay(start_of(tmp_path / file))
        (print_,) = desk.prints()
        assert (print_.edits, print_.at) == (one["edits"], 1)
    (tmp_path / "drop.toml").write_text(JOB.replace("width_mm = 100", "width_mm = 90"))
    desk.lay(start_of(tmp_path / "drop.toml"))
    assert [(print_.options.width_mm, print_.at) for print_ in desk.prints()] == [(90.0, 0)]


def test_a_print_laid_beside_one_of_a_job_is_of_that_job(tmp_path):
    badge(tmp_path / "badge.png")
    (tmp_path / "drop.toml").write_text(JOB.replace("expected = 9\n", ""))
    desk = Desk(tmp_path)
    desk.lay(start_of(tmp_path / "drop.toml"))
    (first,) = desk.prints()
    desk.add(replace(first.options, inks="3", screens=4), beside=first)
    again = Desk(tmp_path)
    assert [one.job for one in again.prints()] == [tmp_path / "drop.toml"] * 2
    said = job_values(tmp_path, [one.row() for one in again.prints()], sheet_of(again.drop_kept))["print"]
    assert [(one["name"], one.get("inks"), one.get("screens")) for one in said] == [
        ("badge", None, None),
        ("badge 2", "3", 4),
    ]
    assert {(one["placement"], one["width_mm"]) for one in said} == {("full front", 100)}


def test_more_plates_than_can_be_mixed_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr("sepkit.preview.keys.MOST_PLATES", 1)
    with pytest.raises(ArtworkError, match="screens, more than the 1 that can be planned") as error:
        Session(PrintOptions(badge(tmp_path / "badge.png"), "white tee", width_mm=60))
    assert "fewer colours" in error.value.hint


def test_a_print_taken_off_leaves_nothing_to_the_next_of_its_number(tmp_path):
    desk = Desk(tmp_path)
    first = desk.add(PrintOptions(badge(tmp_path / "a.png"), "black tee", width_mm=60))
    desk.drop_kept = {"tables": {first.number: {"art": "a.png"}}, "places": {first.number: "nape"}}
    desk.drop(first.number)
    assert desk.drop_kept == {"tables": {}, "places": {}}


def test_a_desk_of_before_is_read(tmp_path):
    badge(tmp_path / "a.png")
    row = {"number": "1", "art": "a.png", "garment": "black tee", "width_mm": 60.0, "inks": "auto"}
    row |= {"press": "two-head", "background": "print", "history": [{}], "at": 0}
    (tmp_path / "sepkit-page").mkdir()
    (tmp_path / "sepkit-page/desk.json").write_text(json.dumps({"schema": "sepkit.desk/1", "prints": [row]}))
    (one,) = Desk(tmp_path).prints()
    assert (one.options.garment, one.options.width_mm, one.options.press) == ("black tee", 60.0, "two-head")
