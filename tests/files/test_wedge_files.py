from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from sepkit.errors import DataFileError, UsageError
from sepkit.files.shelf.pressfile import own_press_file, with_measured
from sepkit.files.wedge_csv import read_wedge, reading_sheet
from sepkit.model import Press
from tests.helpers.shelf import measured_of

PRESS = Press('the "old" one', 2, 1, 450, 620, 0.5)
FILE = Path("presses.toml")


def sheet(tmp_path: Path, text: str | bytes) -> Path:
    path = tmp_path / "wedge.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_an_empty_sheet_holds_no_readings(tmp_path: Path) -> None:
    text = reading_sheet(lpi=(35, 45), tones=(5, 50), shape="round", angle_deg=22.5, area_cm2=82.7)
    with pytest.raises(DataFileError, match="is still blank"):
        read_wedge(sheet(tmp_path, text))
    filled = text.replace("tone,35,50,", "tone,35,50,72").replace("mesh,", "mesh,43-80")
    rows = read_wedge(sheet(tmp_path, filled))
    assert rows.numbers["tone"] == ((35, 50, 72),)
    assert rows.numbers["area"] == ((82.7,),)
    assert rows.texts == {"mesh": "43-80", "dots": "round"}


@pytest.mark.parametrize(
    "raw",
    [
        "test;a;b;c\ntone;45;50;71,5\nregister;0,1;-0,2\n".encode("utf-8-sig"),
        "test\ta\ttone\ntone\t45\t50\t71.5 %\nregister\t0.1\t-0.2\n".encode("utf-16"),
        b"# note\r\ntone,45,50,71.5\r\nregister,0.1,-0.2\r\n\r\n",
    ],
)
def test_marks_separators_and_decimal_commas(tmp_path: Path, raw: bytes) -> None:
    rows = read_wedge(sheet(tmp_path, raw))
    assert rows.numbers == {"tone": ((45, 50, 71.5),), "register": ((0.1, -0.2),)}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tone,45,50,710\n", r'wedge.csv:1: printed % is "710" \(give 0 to 100\)'),
        ("x,1\n", 'no test "x"'),
        ("\nregistr,0.1,0.2\n", r'wedge.csv:2.*did you mean "register"'),
        ("weight,100,nan\n", 'after g is "nan"'),
        ("tone,,50,70\n", 'lpi is ""'),
        ("", "is still blank"),
    ],
)
def test_what_is_wrong_in_one_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(DataFileError, match=said):
        read_wedge(sheet(tmp_path, text))


def test_latin_text_and_missing_files(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="UTF-8"):
        read_wedge(sheet(tmp_path, b"tone,\xff"))
    with pytest.raises(DataFileError, match="No such file"):
        read_wedge(tmp_path / "none.csv")


def test_a_press_is_added_and_then_changed_in_place() -> None:
    text = with_measured("", PRESS, {"register_error_mm": 0.62, "edge_growth_um": 31.5}, file=FILE)
    entry = tomllib.loads(text)["press"][0]
    assert entry["name"] == PRESS.name
    assert (entry["register_error_mm"], entry["edge_growth_um"], entry["heads"]) == (0.62, 31.5, 2)


def test_the_rest_of_the_file_stays() -> None:
    old = (
        '# mine\n[[press]]\nname = "other"\nheads = 4\n\n[[press]] # attic\nname = "Attic"\n'
        "register_error_mm = 0.5   # guessed\n\n# end\n[[press]]\nname = 'third'\n"
    )
    attic = Press("attic", 1, 1, 400, 500, 0.5)
    new = with_measured(old, attic, {"register_error_mm": 0.31, "ink_factor": 1.1}, file=FILE)
    presses = tomllib.loads(new)["press"]
    assert [p["name"] for p in presses] == ["other", "Attic", "third"]
    assert presses[1] == {"name": "Attic", "register_error_mm": 0.31, "ink_factor": 1.1}
    assert "register_error_mm = 0.31   # guessed" in new
    assert new.startswith("# mine\n")
    assert presses[0] == {"name": "other", "heads": 4}
    assert with_measured(new, attic, {"register_error_mm": 0.31, "ink_factor": 1.1}, file=FILE) == new


def test_a_broken_press_file_is_left_alone() -> None:
    with pytest.raises(DataFileError, match="is not TOML"):
        with_measured("[[press]\n", PRESS, {}, file=FILE)


def test_a_number_that_no_press_has_is_not_written() -> None:
    with pytest.raises(DataFileError, match=r"register_error_mm: would be 14\.1 .a press has 0 to 10 mm"):
        with_measured("", PRESS, {"register_error_mm": 14.1, "ink_factor": 1.0}, file=FILE)


def test_signs_that_only_python_takes_for_line_ends_stay() -> None:
    old = '[[press]]\nname = "a\u2028b"\nregister_error_mm = 0.5\n'
    new = with_measured(old, replace(PRESS, name="a\u2028b"), {"register_error_mm": 0.4}, file=FILE)
    assert new == old.replace("0.5", "0.4")


def test_the_own_folder_must_be_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    with pytest.raises(UsageError, match="--to"):
        own_press_file()
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    assert own_press_file() == tmp_path / "presses.toml"
    (tmp_path / "presses.toml").write_text(with_measured("", replace(PRESS, name="a"), {"ink_factor": 1.3}, file=FILE))
    assert measured_of("A") == {"register_error_mm": 0.5, "ink_factor": 1.3}
    assert measured_of("two-head") == {"register_error_mm": 0.5}
