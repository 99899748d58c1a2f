from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sepkit.errors import DataFileError
from sepkit.files.jobfile.jobfile import job_of
from sepkit.files.jobfile.keys import KEYS, TABLES
from sepkit.files.shelf.folders import recipes_folder
from sepkit.files.shelf.shelf import Shelf
from sepkit.files.toml.notes import Notes
from sepkit.files.toml.read import TomlFile
from sepkit.jobs import Job
from sepkit.workshop.drop.load import NAMES, explain_job, load_job, starter_job

GOOD = """schema = 1
title = "Kites"
[[screen]]
name = "large"
inside_width_mm = 533
inside_height_mm = 737
mesh = "43-80"
[[garment]]
name = "black tee"
sizes = { S = 2, M = 3 }
[[print]]
name = "front"
art = "kite.svg"
placement = "full front"
width_mm = 200
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "kite.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"/>')
    return tmp_path


def load(folder: Path, text: str) -> Job:
    path = folder / "drop.toml"
    path.write_text(text, encoding="utf-8")
    return load_job(path)


def problems(folder: Path, text: str) -> list[tuple[int, str, str, str]]:
    with pytest.raises(DataFileError) as caught:
        load(folder, text)
    return [(p.line, p.key, p.text, p.hint) for p in caught.value.problems]


def one_problem(folder: Path, text: str) -> str:
    found = problems(folder, text)
    assert len(found) == 1, found
    line, key, said, hint = found[0]
    return f"{line} {key}: {said} ({hint})"


def test_a_good_file(folder: Path) -> None:
    job = load(folder, GOOD)
    assert job.title == "Kites"
    assert job.prints[0].garments == ("black tee",)
    assert job.garments[0].pieces == 5
    assert job.press.heads == 2
    assert job.screens[0].mesh.threads_per_cm == 43


def test_lengths_take_inches(folder: Path) -> None:
    assert load(folder, GOOD.replace("width_mm = 200", 'width_mm = "8in"')).prints[0].width_mm == pytest.approx(203.2)


def test_all_problems_come_at_once_with_their_lines(folder: Path) -> None:
    text = GOOD.replace('title = "Kites"', 'title = "Kites"\ntilte = "x"').replace('"full front"', '"full frnt"')
    text = text.replace("533", "5").replace("S = 2", "S = -2").replace('"black tee"', '"blak tee"')
    found = problems(folder, text)
    assert [(line, key.split()[-1].split(".")[-1]) for line, key, _, _ in found] == [
        (3, "tilte"),
        (6, "inside_width_mm"),
        (10, "name"),
        (11, "sizes"),
        (15, "placement"),
    ]
    words = " ".join(hint for _, _, _, hint in found)
    assert 'did you mean "title"' in words
    assert "100 to 2000 mm" in words
    assert 'did you mean "black tee"' in words
    assert 'did you mean "full front"' in words


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "front"', 'name = "front"\ngarments = ["white te"]', "not a garment of this job"),
        ("sizes = { S = 2, M = 3 }", "sizes = { S = 2, M = 3 }\ntotal = 6", "is 6, the sizes add up to 5"),
        ("sizes = { S = 2, M = 3 }", "sizes = { S = 2, 5XL = 3 }", 'size "5XL" is not in the size chart'),
        ("sizes = { S = 2, M = 3 }", "", "nothing is ordered"),
        ("width_mm = 200", "", "has no size"),
        ("width_mm = 200", "width_mm = 200\nheight_mm = 90", "both given"),
        ('art = "kite.svg"', 'art = "../kite.svg"', "outside the job's folder"),
        ('art = "kite.svg"', 'art = "/etc/hosts"', "outside the job's folder"),
        ('art = "kite.svg"', 'art = "kyte.svg"', 'no file "kyte.svg" (did you mean "kite.svg"'),
        ('art = "kite.svg"', f'art = "{"k" * 300}.svg"', 'there is no file "kkk'),
        ('art = "kite.svg"', 'art = "sample:kite.svg"', 'no sample art "kite.svg"'),
        ('art = "kite.svg"', f'art = "sample:{"k" * 300}.svg"', 'no sample art "kkk'),
        ('mesh = "43-80"', 'mesh = "110"', "threads per cm or per inch"),
        ('placement = "full front"', 'placement = "full front"\none_ink = "wite"', 'no ink "wite"'),
        ("schema = 1", "schema = 2", "is 2, this sepkit reads 1"),
        ("[[print]]", f"[{'x' * 5000}]\n[[print]]", "xxx...xxx"),
        ("[[print]]", "[[leftover]]\nink = 'red'\n[[print]]", "leftover.mass_g: is missing"),
    ],
)
def test_one_clear_line_each(folder: Path, old: str, new: str, said: str) -> None:
    assert said in one_problem(folder, GOOD.replace(old, new))


def test_a_link_out_of_the_folder_is_outside(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    far = tmp_path_factory.mktemp("far") / "secret.svg"
    far.write_text("<svg/>")
    (folder / "link.svg").symlink_to(far)
    assert "outside the job's folder" in one_problem(folder, GOOD.replace("kite.svg", "link.svg"))


def test_duplicate_names_tell_the_first_line(folder: Path) -> None:
    text = GOOD + '[[print]]\nname = "Front"\nart = "kite.svg"\nplacement = "hem"\nwidth_mm = 40\n'
    assert '17 print.name: "front" is used twice, first in line 12' in one_problem(folder, text)


def test_files_that_hide_everything_else(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match=r"is not TOML.*line 2"):
        load(folder, "schema = 1\ntitle = = 3\n")
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 10_000_000)
    with pytest.raises(DataFileError, match="has 10 MB"):
        load_job(big)
    (tmp_path / "latin.toml").write_bytes("title = 'ä'".encode("latin-1"))
    with pytest.raises(DataFileError, match="not UTF-8"):
        load_job(tmp_path / "latin.toml")
    with pytest.raises(DataFileError, match="No such file"):
        load_job(tmp_path / "none.toml")
    with pytest.raises(DataFileError, match="is a folder"):
        load_job(tmp_path)
    with pytest.raises(DataFileError):
        load(folder, "a = " + "[" * 5000)


def test_byte_order_mark_and_windows_lines(folder: Path) -> None:
    path = folder / "drop.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_job(path).title == "Kites"


def test_orders_from_csv_and_all_that_is_wrong_with_them(folder: Path) -> None:
    text = GOOD.replace("sizes = { S = 2, M = 3 }", 'orders = "orders.csv"')
    (folder / "orders.csv").write_text("size,pieces\nM,3\nS,3\n", encoding="utf-8")
    assert list(load(folder, text).garments[0].sizes.items()) == [("S", 3), ("M", 3)]
    (folder / "orders.csv").write_text("size,pieces\nS,two\nM,1\nL\n", encoding="utf-8")
    found = problems(folder, text)
    assert [(line, said) for line, _, said, _ in found] == [
        (10, 'orders.csv, line 2: "S", "two"'),
        (10, "orders.csv, line 4: has 1 columns"),
    ]
    (folder / "orders.csv").write_text("size,pieces\n", encoding="utf-8")
    assert "orders.csv: holds no orders" in one_problem(folder, text)


def test_expected_orders_are_shared_out(folder: Path) -> None:
    job = load(folder, GOOD.replace("sizes = { S = 2, M = 3 }", "expected = 36"))
    assert job.garments[0].sizes == {"S": 5, "M": 9, "L": 9, "XL": 7, "2XL": 4, "3XL": 2}


def test_orders_so_far_and_what_is_still_expected(folder: Path) -> None:
    job = load(folder, GOOD.replace("sizes = { S = 2, M = 3 }", "sizes = { 3XL = 10 }\nexpected = 30"))
    sizes = job.garments[0].sizes
    assert sum(sizes.values()) == 30
    assert sizes["3XL"] > 12
    assert list(sizes) == ["S", "M", "L", "XL", "2XL", "3XL"]
    text = GOOD.replace("sizes = { S = 2, M = 3 }", "sizes = { S = 2, M = 3 }\nexpected = 4")
    assert "is 4, and 5 are ordered already" in one_problem(folder, text)


def test_demo_jobs_and_the_starter_are_right(tmp_path: Path) -> None:
    files = sorted((recipes_folder() / "jobs").glob("*.toml"))
    assert {file.stem for file in files} >= {"rowing-club", "lantern-festival", "classroom", "starter"}
    for file in files:
        assert load_job(file).prints
    new = tmp_path / "new.toml"
    new.write_text(starter_job(), encoding="utf-8")
    assert load_job(new).title
    assert starter_job().count("#") > 10


def test_a_background_may_be_dropped(folder: Path) -> None:
    assert load(folder, GOOD).prints[0].background == "print"
    line = next(line for line in GOOD.splitlines() if line.startswith("art"))
    assert load(folder, GOOD.replace(line, f'{line}\nbackground = "drop"')).prints[0].background == "drop"
    assert "print, drop" in one_problem(folder, GOOD.replace(line, f'{line}\nbackground = "none"'))


def test_explain_lists_every_key() -> None:
    text = "\n".join(explain_job())
    for key in KEYS:
        assert f"  {key.name} " in text
    for table in TABLES:
        assert table in text
    assert "left chest" in text
    assert "common" in text


def test_measured_numbers_of_the_press_are_the_defaults(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "presses.toml").write_text(
        '[[press]]\nname = "attic"\nheads = 1\nplatens = 1\nplaten_width_mm = 400\nplaten_height_mm = 500\n'
        "register_error_mm = 0.7\nedge_growth_um = 33.5\nink_factor = 1.2\n"
    )
    monkeypatch.setenv("SEPKIT_RECIPES", str(folder))
    text = GOOD.replace("[[screen]]", '[press]\nname = "attic"\n[[screen]]')
    job = load(folder, text)
    assert (job.edge_growth_um, job.ink_factor, job.press.register_error_mm) == (33.5, 1.2, 0.7)
    job = load(folder, text.replace("schema = 1", "schema = 1\nink_factor = 0.9"))
    assert (job.edge_growth_um, job.ink_factor) == (33.5, 0.9)


def test_a_broken_file_of_the_shelf_is_told_as_itself(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is no problem of the job's line that asks for it."""
    (folder / "inks").mkdir()
    (folder / "inks" / "odd.toml").write_text('name = "odd"\n')
    monkeypatch.setenv("SEPKIT_RECIPES", str(folder))
    with pytest.raises(DataFileError) as caught:
        load(folder, GOOD.replace('name = "front"', 'name = "front"\none_ink = "odd"'))
    assert caught.value.file == str(folder / "inks" / "odd.toml")


def test_numbers_too_large_for_a_float_are_out_of_range(folder: Path) -> None:
    assert "give 1 to 3000 mm" in one_problem(folder, GOOD.replace("width_mm = 200", f"width_mm = {'9' * 400}"))


SHELF = Shelf()
JUNK = st.recursive(
    st.one_of(st.integers(-(10**6), 10**6), st.floats(), st.booleans(), st.text(max_size=8), st.just("black tee")),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=6,
)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(list(KEYS)), JUNK)
def test_no_value_of_any_key_ends_in_a_traceback(folder: Path, key: Any, value: Any) -> None:
    content = tomllib.loads(GOOD)
    if not key.table:
        content[key.name] = value
    elif isinstance(content.get(key.table), list):
        content[key.table][0][key.name] = value
    elif key.table in ("blade", "leftover"):
        content[key.table] = [{key.name: value}]
    else:
        content[key.table] = {key.name: value}
    file = TomlFile(content, Notes("drop.toml", GOOD), what="a job")
    try:
        job_of(file, folder, names=NAMES, shelf=SHELF)
    except DataFileError as error:
        assert all(line.startswith("drop.toml:") and "\n" not in line for line in error.lines())
