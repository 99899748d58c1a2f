from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.files.toml.lines import line_map

TEXT = '''# c
a = """
b = 1
""" # [
[t]
c = [
 1, # x = 2
 "d = ]",
]
e.f = 1
[t.sub."odd \\u0041.key"]
g = 1
[[u]]
h = { i = "[" }
[[u]]
"j k" = 1
[u.l]
m = \'\'\'it's " [ \\\'\'\'
[[u.n]]
o = 1
[[u.n]]
o = 2
p = """four quotes""""
q = "\\"]["
'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("a",), 2),
        (("t",), 5),
        (("t", "c"), 6),
        (("t", "e"), 10),
        (("t", "e", "f"), 10),
        (("t", "sub", "odd A.key", "g"), 12),
        (("u", 0), 13),
        (("u", 0, "h"), 14),
        (("u", 0, "h", "i"), 14),
        (("u", 1, "j k"), 16),
        (("u", 1, "none"), 15),
        (("u", 1, "l", "m"), 18),
        (("u", 1, "n", 0, "o"), 20),
        (("u", 1, "n", 1, "o"), 22),
        (("u", 1, "n", 1, "p"), 23),
        (("u", 1, "n", 1, "q"), 24),
        (("b",), 1),
        (("none", 3, "x"), 1),
    ],
)
def test_lines_of_keys(place, line):
    tomllib.loads(TEXT)
    assert line_map(TEXT).line(*place) == line


def test_only_line_feeds_count():
    text = 'a = "\u2028\u0085"\n# \x0b\u2029\nb = 1\n'.replace("\x0b", "\t")
    tomllib.loads(text)
    assert line_map(text).line("b") == 3


def test_a_list_of_inline_tables_stands_at_its_key():
    assert line_map("x = 1\nparts = [\n { a = 1 },\n { b = 2 },\n]\ny = 1").line("parts", 1, "b") == 2


WORD = st.text("abc-_1", min_size=1, max_size=3)
QUOTED = st.text(st.characters(codec="utf-8", exclude_categories=("Cc",)), max_size=4)
VALUE = st.one_of(
    st.integers(0, 9).map(str),
    QUOTED.map(lambda t: '"' + t.replace("\\", "\\\\").replace('"', '\\"') + '"'),
    QUOTED.filter(lambda t: "'" not in t).map(lambda t: f"'''\n{t}\n[x]\ny = 1\n'''"),
    QUOTED.filter(lambda t: "'" not in t).map(lambda t: f"[\n  '{t}', # ]\n  {{ k = 1 }},\n]"),
)


@given(st.lists(st.tuples(WORD, VALUE), unique_by=lambda pair: pair[0], max_size=8), st.booleans())
def test_each_key_is_found_where_it_was_written(pairs, in_table):
    """Lines counted while writing are the lines found; values span lines and hold what looks like keys."""
    text, at = ("[t]\n" if in_table else ""), {}
    for key, value in pairs:
        at[key] = text.count("\n") + 1
        text += f"{key} = {value}\n"
    tomllib.loads(text)
    found = line_map(text)
    assert {key: found.line(*(("t",) if in_table else ()), key) for key in at} == at
