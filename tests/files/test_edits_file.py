"""The edits file: what is written reads back the same, and what is wrong is told with its line."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.decisions import AreaEdit, AreaWish, PartEdit, PrintEdits
from sepkit.errors import DataFileError
from sepkit.files.edits import edits_of, edits_text
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import BASE_RULES, Mesh
from sepkit.units import to_hex

SHELF = Shelf()
COLOUR = st.tuples(*[st.integers(0, 255)] * 3)
NAME = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30).map(lambda t: " ".join(t.split()))
INK = st.one_of(st.just(SHELF.ink("red")), COLOUR.map(lambda rgb: ink_from_swatch(to_hex(rgb), rgb)))
WISH = st.builds(
    AreaWish,
    st.none() | INK,
    st.none() | st.sampled_from(BASE_RULES),
    st.none() | st.integers(1, 3),
    st.none() | st.just(Mesh(43, 80)),
    st.just("") | NAME,
)
MM = st.floats(0, 5000)


@st.composite
def print_edits(draw):
    colours = draw(st.lists(COLOUR, min_size=3, max_size=8, unique=True))
    names: set[str] = set()
    areas = []
    for at, colour in enumerate(colours[1:], 1):
        wish = draw(WISH)
        kind = draw(st.sampled_from(("wish", "into", "open")))
        if kind == "into":
            areas.append(AreaEdit(colour, into=colours[at - 1]))
        elif kind == "open":
            areas.append(AreaEdit(colour, open=True))
        elif wish and wish.name.lower() not in names:
            names |= {wish.name.lower()} if wish.name else set()
            areas.append(AreaEdit(colour, wish))
    of = st.sampled_from(colours[:2])
    parts = draw(st.lists(st.builds(PartEdit, st.tuples(MM, MM), of, st.none() | st.just(colours[2])), max_size=3))
    gap = st.none() | st.floats(0, 10)
    digest = draw(st.just("") | st.just("0f" * 32))
    screens, all_inks = draw(st.sampled_from(((None, False), (3, False), (None, True))))
    return PrintEdits(
        tuple(areas), tuple(parts), tuple(colours[:2]), draw(gap), draw(gap), screens, all_inks, art_sha256=digest
    )


def plain(edits: PrintEdits):
    """Return the edits with inks and meshes as words."""
    rows = [
        (e.of, e.into, e.open, e.wish.ink and e.wish.ink.name, e.wish.base, e.wish.coats, str(e.wish.mesh), e.wish.name)
        for e in edits.areas
    ]
    rules = (edits.trap_mm, edits.choke_mm, edits.screens, edits.all_inks)
    return rows, edits.parts, edits.order, rules, edits.art_sha256


@settings(max_examples=60, deadline=None)
@given(print_edits())
def test_edits_read_back_the_same(edits):
    assert plain(edits_of(edits_text(edits), SHELF, where="e.toml")) == plain(edits)


HEAD = 'schema = "sepkit.edits/1"\n'
WRONG = [
    ("order = 3", "order: is 3"),
    ('order = ["red"]', '"red" is no colour'),
    ('order = ["#ff0000", "#FF0000"]', "named twice"),
    ("screens = 2\nall_inks = true", "told together"),
    ('art_sha256 = "12"', "is no SHA-256"),
    ("choke_mm = 40", "choke_mm: is 40"),
    ('[[ink]]\nof = "#ff0000"', "has nothing changed"),
    ('[[ink]]\nink = "red"', "of: is missing"),
    ('[[ink]]\nof = "#ff0000"\nink = "plaid"', "plaid"),
    ('[[ink]]\nof = "#ff0000"\nmesh = "tulle"', "tulle"),
    ('[[ink]]\nof = "#ff0000"\ncoats = 9', "coats: is 9"),
    ('[[ink]]\nof = "#ff0000"\nwith = "#ff0000"', "comes back to the area itself"),
    ('[[ink]]\nof = "#ff0000"\nwith = "#00ff00"\n[[ink]]\nof = "#00ff00"\nwith = "#ff0000"', "comes back"),
    ('[[ink]]\nof = "#ff0000"\nwith = "#00ff00"\nopen = true', "together with `with`"),
    ('[[ink]]\nof = "#ff0000"\nopen = true\ncoats = 2', "no screen of its own"),
    ('[[ink]]\nof = "#ff0000"\ncoats = 2\n[[ink]]\nof = "#ff0000"\ncoats = 1', "changed twice"),
    ('[[ink]]\nof = "#ff0000"\nname = "A"\n[[ink]]\nof = "#00ff00"\nname = "a"', "used twice"),
    ('[[part]]\nat_mm = [1]\nof = "#ff0000"\nopen = true', "at_mm"),
    ('[[part]]\nat_mm = [1, 2]\nof = "#ff0000"', "to: is missing"),
    ('[[part]]\nat_mm = [1, 2]\nof = "#ff0000"\nto = "#ff0000"', "is the area that it belongs to"),
    ('[[part]]\nat_mm = [1, 2]\nof = "#ff0000"\nto = "#00ff00"\nopen = true', "both told"),
    ("[press]\nheads = 3", "is not a table of an edits file"),
    ("colour = 3", "is not a key of an edits"),
]


@pytest.mark.parametrize(("text", "told"), WRONG, ids=[told for _, told in WRONG])
def test_what_is_wrong_is_told_with_its_line(text, told):
    with pytest.raises(DataFileError) as error:
        edits_of(HEAD + text + "\n", SHELF, where="e.toml")
    assert told in str(error.value), str(error.value)
    assert all(problem.line for problem in error.value.problems)


def test_another_schema_is_one_line():
    with pytest.raises(DataFileError, match="this sepkit reads"):
        edits_of('schema = "sepkit.edits/2"\n', SHELF, where="e.toml")
