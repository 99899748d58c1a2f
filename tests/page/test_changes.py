"""Changes that the page asks for, as values of an edits file."""

from __future__ import annotations

import pytest

from sepkit.errors import UsageError
from sepkit.page.changes import changed

RED, SUN = "#c82828", "#f4c95d"


def test_changes_add_up_and_go_away_again():
    edits = changed({}, {"do": "ink", "of": RED, "set": {"ink": "green", "coats": 2}})
    edits = changed(edits, {"do": "ink", "of": RED.upper(), "set": {"coats": None, "name": "sea"}})
    assert edits == {"ink": [{"of": RED, "ink": "green", "name": "sea"}]}
    edits = changed(edits, {"do": "with", "of": RED, "to": SUN})
    assert edits == {"ink": [{"of": RED, "with": SUN}]}
    assert changed(edits, {"do": "own", "of": RED}) == {}
    assert changed(edits, {"do": "ink", "of": RED, "set": {"base": "never"}}) == {"ink": [{"of": RED, "base": "never"}]}


def test_what_was_there_is_not_touched():
    before = {"ink": [{"of": RED, "coats": 2}], "part": [{"at_mm": [1, 2], "of": RED, "open": True}]}
    changed(before, {"do": "open", "of": RED})
    changed(before, {"do": "part", "at_mm": [3, 4], "of": RED, "to": SUN})
    assert before == {"ink": [{"of": RED, "coats": 2}], "part": [{"at_mm": [1, 2], "of": RED, "open": True}]}


def test_gaps_parts_and_order():
    edits = changed({"trap_mm": 0.2}, {"do": "choke", "mm": 0.3})
    edits = changed(edits, {"do": "trap", "mm": None})
    edits = changed(edits, {"do": "order", "order": [SUN, RED]})
    edits = changed(edits, {"do": "part", "at_mm": [1, 2], "of": RED, "to": None})
    part = [{"at_mm": [1, 2], "of": RED, "open": True}]
    assert edits == {"choke_mm": 0.3, "order": [SUN, RED], "part": part}


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"do": "fly"},
        {"do": ["ink"]},
        {"do": "open"},
        {"do": "ink", "of": RED},
        {"do": "ink", "of": 3, "set": {"ink": "x"}},
        {"do": "ink", "of": RED, "set": {"size": 3}},
    ],
)
def test_a_change_without_sense_is_refused(change):
    with pytest.raises(UsageError):
        changed({}, change)
