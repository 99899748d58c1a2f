"""A run filled in changes the next plan; recorded twice it counts once."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from PIL import Image

from sepkit.errors import DataFileError
from sepkit.workshop.drop.actuals import record_run
from sepkit.workshop.drop.load import load_job
from tests.helpers.runner import run
from tests.workshop.drop.test_job import SMALL, make


@pytest.fixture
def made(own_folder: Path) -> Path:
    picture = Image.new("RGBA", (80, 100), (0, 0, 0, 0))
    picture.paste((40, 60, 150, 255), (10, 10, 70, 90))
    picture.save(own_folder / "kite.png")
    make(own_folder, SMALL)
    return own_folder


def fill(folder: Path, **actual: str) -> Path:
    """Write a copy of run.csv with what each kind of line came to."""
    lines = (folder / "out" / "run.csv").read_text().splitlines()
    out = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        cells[8] = actual.get(cells[1], "")
        out.append(",".join(cells))
    path = folder / "filled.csv"
    path.write_text("\n".join(out) + "\n")
    return path


def test_the_next_plan_uses_and_shows_what_happened(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = json.loads((made / "out" / "job.json").read_text())
    form = fill(made, print="1", round="90", ink="40")
    assert run("job", "drop.toml", "--record", form) == 0
    told = capsys.readouterr()
    assert "left chest: common practice -> " in told.err and "1 run" in told.err
    assert run("job", "drop.toml", "--record", form) == 0
    job = load_job(made / "drop.toml")
    assert job.shop.losses["left chest"].runs == 1
    assert job.spoilage.loss_by_placement["left chest"] > 0.02
    again = make(made).record
    assert again["blanks"][0]["loss"] > first["blanks"][0]["loss"]
    assert job.shop.pace is not None and again["minutes"]["all"] != first["minutes"]["all"]
    page = (made / "out" / "appendix.html").read_text()
    assert "lost at left chest" in page and "minutes over the usual" in page


def test_a_form_filled_in_inside_the_folder_is_never_lost(made: Path) -> None:
    form = made / "out" / "run.csv"
    empty = form.read_bytes()
    form.write_bytes(fill(made, print="1").read_bytes())
    assert make(made).unchanged
    # Another price is another plan, and the same form.
    filled = form.read_bytes()
    make(made, SMALL.replace("[money]", "[money]\nfilm_m2 = 9"))
    assert form.read_bytes() == filled != empty
    # More pieces are another form: the filled one stands beside it, and goes on standing there.
    for orders in ("{ S = 9 }", "{ S = 11 }"):
        make(made, re.sub(r"sizes = \{.*?\}", f"sizes = {orders}", SMALL))
        (other,) = (made / "out").glob("run-*.csv")
        assert other.read_bytes() == filled
        assert form.read_bytes() not in (filled, empty)
    assert run("job", "drop.toml", "--record", other) == 0
    # What a spreadsheet made of it is kept too, even where all else is given up.
    form.write_bytes(b"\x00\xff")
    (made / "out" / "mine.txt").write_text("mine")
    assert run("job", "drop.toml", "-o", "out", "--quiet") == 7
    assert run("job", "drop.toml", "-o", "out", "--quiet", "--force") == 0
    assert sorted(file.read_bytes() for file in (made / "out").glob("run-*.csv")) == sorted([filled, b"\x00\xff"])


def test_what_the_job_says_itself_wins(made: Path) -> None:
    record_run(load_job(made / "drop.toml"), fill(made, print="1"))
    own = SMALL.replace("[money]", '[spoilage]\nloss_by_placement = { "left chest" = 0.01 }\n[money]')
    (made / "drop.toml").write_text(own)
    assert load_job(made / "drop.toml").spoilage.loss_by_placement["left chest"] == 0.01


def test_a_form_of_another_job_or_an_empty_one_is_refused(made: Path) -> None:
    job = load_job(made / "drop.toml")
    with pytest.raises(DataFileError, match="is not filled in"):
        record_run(job, fill(made))
    form = fill(made, print="0")
    form.write_text(form.read_text().replace("Kites & friends", "Boats"))
    with pytest.raises(DataFileError, match='is of "Boats"'):
        record_run(job, form)
    assert not (made / "runs.csv").exists()
