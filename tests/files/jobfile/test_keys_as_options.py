"""Options of `sepkit separate` are keys of a job and its keys are options, by one table; all reach the print."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import click
import pytest

from sepkit.cli.job import job
from sepkit.cli.separate import separate
from sepkit.errors import DataFileError, UsageError
from sepkit.files.jobfile.asked import told_keys
from sepkit.files.jobfile.keys import KEYS
from sepkit.files.jobfile.print_keys import PRINT_KEYS, option_of
from sepkit.files.toml.keys import keys_of
from sepkit.jobs import Print
from sepkit.model import DOTS_RULES, SEPARATE_BY
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.print.options import PrintOptions
from tests.helpers.runner import run

OPTIONS = {one.name: one for one in separate.params if isinstance(one, click.Option)}
OF_THE_RUN = {"out", "force", "as_json", "quiet", "help"}
"""Options about where and how it is written, which no job file tells."""
KEYS_BY_OTHER_NAMES = {
    "garments": "name",
    "placement": "placement",
    "sizes": "sizes",
    "press": "name",
    "film_dpi": "dpi",
}
"""Options that stand in other tables of a job: a garment, its sizes, the press, the film printer."""
OF_THE_DROP = {"name", "art", "garments", "sizes", "way"}
"""Keys that make one print of many: its name, which garments and sizes carry it, and how its run is carried out."""


def test_every_option_is_a_key() -> None:
    keys = {key.name for key in KEYS}
    for name in OPTIONS.keys() - OF_THE_RUN:
        assert KEYS_BY_OTHER_NAMES.get(name, name) in keys, name


def test_every_key_is_an_option() -> None:
    for key in keys_of(KEYS, "print").values():
        assert key.name in OPTIONS or key.name in OF_THE_DROP, key.name
    assert "told" in {one.name for one in job.params}, "any other key is told by --set"


def test_options_take_what_keys_take() -> None:
    for key in PRINT_KEYS:
        option = OPTIONS[key.name]
        assert option_of(key) in option.opts
        if key.names:
            assert tuple(option.type.choices) == key.names
        if key.kind in ("number", "whole"):
            assert (option.type.min, option.type.max) == (key.least, key.most)
        if key.kind == "length":
            assert (option.type.least_mm, option.type.most_mm) == (key.least, key.most)


def test_both_mean_one_field_of_one_default() -> None:
    told, asked = Print("a", Path("a.png"), "nape"), PrintOptions(Path("a.png"), "black tee")
    for key in PRINT_KEYS:
        assert key.name in {field.name for field in fields(Print)} & {field.name for field in fields(PrintOptions)}
        assert getattr(told, key.name) == getattr(asked, key.name), key.name


JOB = """schema = 1
title = "Kites"
[[screen]]
name = "large"
inside_width_mm = 533
inside_height_mm = 737
mesh = "43-80"
[[blade]]
width_mm = 330
[[garment]]
name = "white tee"
sizes = { S = 6 }
[[print]]
name = "back"
art = "art.svg"
placement = "full back"
width_mm = 200
"""
SQUARE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="9" height="9" fill="#c02020"/></svg>'
VALUES = {"width_mm": 120.0, "inks": "red", "screens": 3, "base": ("never",), "mesh": "62-60", "edits": "edits.toml"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "drop.toml").write_text(JOB, "utf-8")
    (tmp_path / "art.svg").write_text(SQUARE, "utf-8")
    (tmp_path / "edits.toml").write_text('schema = "sepkit.edits/1"\nchoke_mm = 0.2\n', "utf-8")
    return tmp_path


def test_every_key_is_read_and_reaches_its_print(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A value that is not the default of its key, in the file and in the options that the print is made with."""
    import sepkit.workshop.drop.prints as prints
    import sepkit.workshop.print.options as options
    import sepkit.workshop.print.write  # noqa: F401  (what it imports is not to keep the stand-in)

    for key in PRINT_KEYS:
        if key.name in ("height_mm", "one_ink"):
            continue
        value = VALUES.get(
            key.name, key.names[-1] if key.names else not key.default if key.kind == "yes/no" else key.most / 2
        )
        written = f'["{value[0]}"]' if isinstance(value, tuple) else f'"{value}"' if isinstance(value, str) else value
        line = f"{key.name} = {str(written).lower() if key.kind == 'yes/no' else written}\n"
        rest = JOB.removesuffix("width_mm = 200\n") if key.name == "width_mm" else JOB
        (folder / "one.toml").write_text(rest + line, "utf-8")
        job_read = load_job(folder / "one.toml")
        expected = folder / "edits.toml" if key.name == "edits" else value
        assert getattr(job_read.prints[0], key.name) == expected, key.name
        seen: list[PrintOptions] = []

        def stop(asked: PrintOptions, _shelf: object, seen: list[PrintOptions] = seen) -> None:
            seen.append(asked)
            raise LookupError

        monkeypatch.setattr(options, "bench_of", stop)
        one = prints.job_prints(job_read, recipes="a")[0]
        with pytest.raises(LookupError):
            prints._make(job_read, one, folder / f"made-{key.name}")
        assert getattr(seen[0], key.name) == expected, key.name


def test_what_is_wrong_with_an_edits_file_is_told_with_the_job(folder: Path) -> None:
    (folder / "edits.toml").write_text('schema = "sepkit.edits/1"\nchoke_mm = 99\n', "utf-8")
    (folder / "drop.toml").write_text(JOB + 'edits = "edits.toml"\n', "utf-8")
    with pytest.raises(DataFileError, match=r"edits\.toml, line 2: is 99"):
        load_job(folder / "drop.toml")


def test_a_scan_and_a_pdf_are_told_in_a_job_too(folder: Path) -> None:
    assert {"dots", "by"} <= {key.name for key in keys_of(KEYS, "print").values()}
    for line, wrong in (('dots = "none"', DOTS_RULES), ('by = "none"', SEPARATE_BY)):
        (folder / "drop.toml").write_text(JOB + line + "\n", "utf-8")
        with pytest.raises(DataFileError, match=", ".join(wrong)):
            load_job(folder / "drop.toml")


def test_any_key_is_told_beside_the_file(folder: Path) -> None:
    texts = ["spoilage.spares=safe", "press.heads=4", "print.back.screens=3", "garment.1.sizes={ M = 2 }"]
    told = told_keys([*texts, "screens_apart=true"])
    found = load_job(folder / "drop.toml", told=told)
    assert (found.spoilage.spares, found.press.heads, found.prints[0].screens) == ("safe", 4, 3)
    assert found.garments[0].sizes == {"M": 2}
    assert found.screens_apart
    assert load_job(folder / "drop.toml").press.heads == 2


@pytest.mark.parametrize("text", ["press.heads=many", "print.back.width_mm=wide", "garment.1.price=dear"])
def test_a_told_value_that_is_wrong_names_what_was_told_and_no_line(folder: Path, text: str) -> None:
    with pytest.raises(DataFileError) as caught:
        load_job(folder / "drop.toml", told=told_keys([text]))
    assert str(caught.value).startswith(f"--set {text}: ")
    assert "drop.toml:" not in "".join(caught.value.lines())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("press.heads", "KEY=VALUE"),
        ("press.hands=4", "press.heads"),
        ("print.screens=3", "print.NAME.screens"),
        ("print.front.screens=3", "back"),
        ("press.a.heads=3", "press.heads"),
    ],
)
def test_a_told_key_that_is_none_is_one_line(folder: Path, text: str, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        load_job(folder / "drop.toml", told=told_keys([text]))
    assert says in str(caught.value)


def test_told_values_are_checked_as_the_file_is(folder: Path) -> None:
    with pytest.raises(DataFileError, match=r"press\.heads"):
        load_job(folder / "drop.toml", told=told_keys(["press.heads=many"]))
    assert run("job", folder / "drop.toml", "--check", "--set", "press.heads=0") == 3
    assert run("job", folder / "drop.toml", "--check", "--spares", "lean", "--screens-apart") in (0, 1)
