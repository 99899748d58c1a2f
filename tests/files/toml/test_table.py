from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import DataFileError
from sepkit.files.toml.keys import Key, allowed, choice_key, keys_of
from sepkit.files.toml.notes import MOST_PROBLEMS
from sepkit.files.toml.read import MOST_BYTES, parse_toml, read_toml
from sepkit.files.toml.table import Table, unique

CUT = choice_key("coat", "cut", "how it is cut", ("wide", "slim"), "wide")
KEYS = (
    Key("coat", "name", "text", "its name", must=True),
    CUT,
    Key("coat", "width", "length", "its width", "mm", 5, 1000),
    Key("coat", "coats", "whole", "how many", "", 1, 9, 2),
    Key("coat", "share", "number", "its share", "", 0, 1, 0.5),
    Key("coat", "dry", "yes/no", "whether it is dry", default=True),
    Key("coat", "words", "texts", "words"),
    Key("coat", "colour", "colour", "its colour"),
    Key("coat", "day", "date", "its day"),
    Key("coat", "curve", "numbers", "three numbers", "", 0, 1, count=3),
    Key("coat", "chart", "lengths by size", "sizes", "mm", 1, 9),
    Key("coat", "pieces", "sizes", "pieces", "", 0, 9),
    Key("coat", "parts", "tables", "parts"),
    Key("part", "grams", "number", "grams", "g", 0, 9, must=True),
)


def coat(text: str) -> Table:
    file = parse_toml('[coat]\nname = "a"\n' + text, where="coat.toml", what="a coat")
    return file.table("coat", keys_of(KEYS, "coat"))


def told(table: Table) -> str:
    with pytest.raises(DataFileError) as caught:
        table.notes.check()
    (line,) = caught.value.lines()
    return line


def test_what_is_right_comes_out_in_its_unit() -> None:
    table = coat(
        'cut = " Slim "\nwidth = "1in"\nwords = "one"\ncolour = "#fa0"\nday = 2026-01-31\n'
        "curve = [0, 0.5, 1]\nchart = { S = 3 }\nparts = [{ grams = 1 }, { grams = 2.5 }]\n"
    )
    assert (table.text("name"), table.choice(CUT), table.number("width")) == ("a", "slim", pytest.approx(25.4))
    assert (table.whole("coats"), table.number("share"), table.yes("dry")) == (2, 0.5, True)
    assert (table.texts("words"), table.colour("colour"), table.text("day")) == (("one",), (255, 170, 0), "2026-01-31")
    assert (table.numbers("curve"), table.by_name("chart"), table.sizes("pieces")) == ((0, 0.5, 1), {"S": 3}, {})
    assert [part.number("grams") for part in table.tables("parts", keys_of(KEYS, "part"))] == [1, 2.5]
    table.notes.check()


@pytest.mark.parametrize(
    ("text", "get", "said"),
    [
        ('cut = "tight"', lambda t: t.choice(CUT), 'coat "a" cut: is "tight" (one of wide, slim)'),
        ("width = 2", lambda t: t.number("width"), "width: is 2 (give 5 to 1000 mm)"),
        ("width = nan", lambda t: t.number("width"), "width: is nan"),
        ("width = inf", lambda t: t.number("width"), "width: is inf"),
        ('width = "2 miles"', lambda t: t.number("width"), '"2 miles" is not a length'),
        (f"width = {'9' * 400}", lambda t: t.number("width"), "width: is 999999"),
        ("coats = 1.5", lambda t: t.whole("coats"), "coats: is 1.5 (give a whole number, 1 to 9)"),
        ("coats = true", lambda t: t.whole("coats"), "coats: is true"),
        ("share = true", lambda t: t.number("share"), "share: is true"),
        ("dry = 1", lambda t: t.yes("dry"), "dry: is 1 (give true or false)"),
        ('words = ["a", " "]', lambda t: t.texts("words"), "words: is ['a', ' '] (give a list of texts"),
        ('colour = "red"', lambda t: t.colour("colour"), '"red" is not a colour (write it as #rrggbb)'),
        ("colour = 5", lambda t: t.colour("colour"), 'colour: is 5 (give a colour as "#1a1a1c")'),
        ("day = 2026", lambda t: t.text("day"), 'day: is 2026 (give a date as "2026-01-31")'),
        ("coats = 2026-01-31", lambda t: t.whole("coats"), "coats: is 2026-01-31"),
        (
            "curve = [1, 2]",
            lambda t: t.numbers("curve"),
            "curve: has 2 numbers (give a list of 3 numbers, each 0 to 1)",
        ),
        ("curve = [0, 0, 2]", lambda t: t.numbers("curve"), "curve: holds 2 at place 3"),
        ("curve = 1", lambda t: t.numbers("curve"), "curve: is 1 (give a list of 3"),
        ("chart = { S = 0 }", lambda t: t.by_name("chart"), "chart: S is 0 (give 1 to 9 mm)"),
        ("pieces = { S = 1.0 }", lambda t: t.sizes("pieces"), "pieces: S is 1.0 (give a whole number, 0 to 9)"),
        ("parts = []", lambda t: t.tables("parts", {}), "parts: is [] (give [{"),
        ("parts = [{}]", lambda t: t.tables("parts", keys_of(KEYS, "part")), "coat.parts.grams: is missing"),
        ("wdith = 3", lambda t: None, 'wdith: is not a key of a coat (did you mean "width"?)'),
    ],
)
def test_what_is_wrong_is_one_line(text: str, get: object, said: str) -> None:
    table = coat(text)
    get(table)  # type: ignore[operator]
    line = told(table)
    assert line.startswith("coat.toml:3: ") and said in line


def test_names_are_used_once() -> None:
    text = '[[coat]]\nname = "Red  tee"\n[[coat]]\nname = "blue"\n[[coat]]\nname = "red tee"\n'
    file = parse_toml(text, where="coat.toml", what="a coat")
    unique(file.tables("coat", keys_of(KEYS, "coat")), "coat")
    with pytest.raises(DataFileError, match=r'coat\.toml:6: coat\.name: "red tee" is used twice, first in line 2'):
        file.check()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("coat = 3", "coat.toml:1: coat: comes several times (write [[coat]] before each)"),
        ("x = 1\n[coat]", "coat.toml:2: coat: comes several times"),
        ("", "coat.toml:1: [[coat]]: is missing (add at least one [[coat]])"),
    ],
)
def test_tables_that_come_several_times(text: str, said: str) -> None:
    file = parse_toml(text, where="coat.toml", what="a coat")
    assert file.tables("coat", {}, least=1) == []
    with pytest.raises(DataFileError) as caught:
        file.check()
    assert said in str(caught.value)


def test_tables_and_keys_that_do_not_belong() -> None:
    file = parse_toml("size = 1\n[[cot]]\n[coat]\n", where="coat.toml", what="a coat", help_hint="see the manual")
    file.top({}, ("coat",))
    with pytest.raises(DataFileError) as caught:
        file.check()
    assert caught.value.lines() == (
        "coat.toml:1: size: is not a key of a coat (write it below the table that it belongs to)",
        'coat.toml:2: [cot]: is not a table of a coat file (did you mean "coat"?; see the manual)',
    )


def test_another_layout_is_told_alone() -> None:
    file = parse_toml('name = 3\nschema = "x/2"\n', where="coat.toml", what="a coat")
    with pytest.raises(DataFileError) as caught:
        file.of_schema("x/1")
    assert caught.value.lines() == (
        """coat.toml:2: schema: is 'x/2', this sepkit reads "x/1" (write schema = "x/1")""",
    )
    file.of_schema("x/2")


def test_a_file_with_too_many_problems_is_given_up() -> None:
    text = "".join(f"k{n} = 1\n" for n in range(3 * MOST_PROBLEMS))
    with pytest.raises(DataFileError) as caught:
        parse_toml(text, where="coat.toml", what="a coat").top({}, ())
    assert len(caught.value.problems) == MOST_PROBLEMS


def test_files_that_cannot_be_read_at_all(tmp_path: Path) -> None:
    def refusal(name: str, data: bytes | None = None) -> str:
        path = tmp_path / name
        if data is not None:
            path.write_bytes(data)
        with pytest.raises(DataFileError) as caught:
            read_toml(path, what="a coat", start_hint="start anew")
        (line,) = caught.value.lines()
        return line.removeprefix(str(tmp_path))

    assert refusal("") == ": is a folder (give a coat file in it)"
    assert refusal("none.toml") == "/none.toml: No such file or directory (start anew)"
    assert refusal("x" * 300).endswith("File name too long (start anew)")
    assert refusal("a\0b").endswith("cannot be read (start anew)")
    assert refusal("a.toml", b"a = '\xff'") == "/a.toml: is not UTF-8 text (save it as UTF-8)"
    assert (
        refusal("b.toml", b"#" * (MOST_BYTES + 1))
        == "/b.toml: has 1 MB; a coat file has a few kB (give the TOML \
file, not the art)"
    )
    assert refusal("c.toml", b"a = 1\nb = = 2").startswith("/c.toml:2: is not TOML: ")
    assert refusal("d.toml", b"a = " + b"[" * 5000) == "/d.toml: is not TOML: nested too deeply (mend it)"
    (tmp_path / "e.toml").write_bytes(b"\xef\xbb\xbfa = '''x\r\ny'''\r\n")
    assert read_toml(tmp_path / "e.toml", what="a coat").values == {"a": "x\ny"}


def test_what_a_key_takes_is_said_for_every_kind() -> None:
    assert [allowed(key) for key in KEYS[:4]] == [
        "text in quotes",
        "wide, slim",
        "5 to 1000 mm",
        "a whole number, 1 to 9",
    ]
    assert all(allowed(key) for key in KEYS)
