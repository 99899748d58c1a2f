"""Broken job, ink and list files that the fuzz run found: each is one plain line, and none is read without end."""

from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import DataFileError, SepkitError, UsageError, WriteError
from sepkit.files.folders.record import read_record
from sepkit.files.jobfile.orders import read_orders
from sepkit.files.shelf.colours import read_colours
from sepkit.files.shelf.inks import read_ink_file
from sepkit.files.shelf.pressfile import with_measured
from sepkit.files.shelf.shelf import Shelf
from sepkit.files.toml.read import parse_toml
from sepkit.files.wedge_csv import read_wedge
from sepkit.files.words import shown
from sepkit.workshop.drop.load import load_job

DIGITS = "9" * 5000
"""More than Python turns into a number by itself."""


def refusal(read, path, kind=SepkitError):
    with pytest.raises(kind) as caught:
        read(path)
    line = str(caught.value)
    assert line.isprintable()
    assert len(line) < 1000
    return line


def put(folder: Path, name: str, text: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize("text", [f"a = {DIGITS}", "a = " + "[" * 5000, "a = 1\na = 2", "a = \x00", "a = 1979-99-99"])
def test_what_the_toml_parser_lets_out_is_one_error(text):
    with pytest.raises(DataFileError, match="is not TOML") as caught:
        parse_toml(text, where="a.toml", what="a job")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize("text", [f"schema = {DIGITS}", "schema = " + "[" * 5000])
def test_each_reader_of_toml_refuses_it(tmp_path, monkeypatch, text):
    path = put(tmp_path, "presses.toml", text)
    for read in (load_job, read_ink_file):
        assert "is not TOML" in refusal(read, path, DataFileError)
    press = Shelf().press("two-head")
    assert "is not TOML" in refusal(lambda p: with_measured(p.read_text(), press, {}, file=p), path)
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    assert "is not TOML" in refusal(lambda _: Shelf().press_names(), path)


def test_a_kind_of_ink_must_be_known(tmp_path):
    path = put(tmp_path, "drop.toml", 'schema = 1\ntitle = "x"\nink_kind = "../../etc/passwd"\n')
    with pytest.raises(DataFileError) as caught:
        load_job(path)
    assert any("ink_kind" in line and "plastisol" in line for line in caught.value.lines())


def test_orders(tmp_path):
    assert "a.csv:2:" in refusal(read_orders, put(tmp_path, "a.csv", f"size,pieces\nM,{DIGITS}\n"))
    assert "..." in refusal(read_orders, put(tmp_path, "b.csv", "size," + "x" * 100_000 + "\nM,1\n"))
    wide = "size,pieces\nM,1\n".encode("utf-16-le")
    refusal(read_orders, put(tmp_path, "c.csv", wide))


def test_reading_sheets(tmp_path):
    assert "\\x1b" in refusal(read_wedge, put(tmp_path, "a.csv", "tone,35,50,66\n\x1b[2J,1\n"))
    refusal(read_wedge, put(tmp_path, "b.csv", "tone," + "1" * 200_000 + ",50,66\n"))


def test_colour_lists(tmp_path):
    assert "is not CSV" in refusal(read_colours, put(tmp_path, "a.csv", 'name,hex\n"' + "x" * 200_000), UsageError)
    refusal(read_colours, put(tmp_path, "b.csv", f"name,hex\nred,#{DIGITS}\n"), UsageError)
    refusal(read_colours, put(tmp_path, "c.csv", f"name,L,a,b\nred,{DIGITS},0,0\n"), UsageError)


def test_a_record_with_impossible_file_names(tmp_path):
    for name in ("x" * 5000, "plates/\\u0000.png", "plates/\\u001b[2J.png"):
        put(tmp_path, "separation.json", f'{{"schema": "sepkit.separation/1", "plates": [{{"plate": "{name}"}}]}}')
        assert "no plain name" in refusal(read_record, tmp_path, WriteError)


def test_words_are_shown_short_and_plain():
    assert shown("sea green") == "sea green"
    assert shown("a\u202eb\x1b\ud7ff") == "a\\u202eb\\x1b\\ud7ff"
    assert len(shown("x" * 10_000)) == 60
    assert shown("Größe – ΔE00") == "Größe – ΔE00"
