"""Numbers of the separation: each stands with a word of what it parts."""

from __future__ import annotations

import ast
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import pytest

from sepkit.separation import tuned_colours, tuned_mixing
from sepkit.separation.wishes import choose_inks

TABLES = [
    (module, name, table)
    for module in (tuned_colours, tuned_mixing)
    for name, table in vars(module).items()
    if is_dataclass(table) and not isinstance(table, type)
]
ROOM = Path(tuned_colours.__file__).parent


def words_of_fields(module):
    """Return the words below each field of each class of a module."""
    out = {}
    for node in ast.parse(Path(module.__file__).read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ClassDef):
            for field, below in zip(node.body, node.body[1:], strict=False):
                if isinstance(field, ast.AnnAssign) and isinstance(below, ast.Expr):
                    out[node.name, field.target.id] = below.value.value
    return out


@pytest.mark.parametrize(("module", "name", "table"), TABLES, ids=[name for _, name, _ in TABLES])
def test_every_tuned_number_says_what_it_parts(module, name, table):
    words = words_of_fields(module)
    for field in fields(table):
        assert words.get((type(table).__name__, field.name), "").strip(), f"{name}.{field.name}"


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda path: path.stem)
def test_no_number_of_a_module_stands_without_a_word(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    body = ast.parse("\n".join(lines)).body
    for node, below in zip(body, [*body[1:], None], strict=True):
        value = getattr(node, "value", None)
        if isinstance(node, ast.Assign) and isinstance(value, (ast.Constant, ast.Tuple, ast.UnaryOp, ast.BinOp)):
            told = isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant)
            near = lines[max(0, node.lineno - 2) : node.lineno]
            assert told or any("#" in line for line in near), f"{path.name}:{node.lineno}: {near[-1]}"


def test_functions_read_the_tables_as_they_run(monkeypatch):
    import numpy as np

    from sepkit.model import InkRequest

    colours, pixels = np.array([[250, 250, 248], [200, 40, 40]], np.uint8), np.array([500, 500])
    assert len(choose_inks(colours, pixels, (240, 240, 238), InkRequest()).rgb) == 1
    monkeypatch.setattr(tuned_colours, "FLATS", replace(tuned_colours.FLATS, ground_de00=1.0))
    assert len(choose_inks(colours, pixels, (240, 240, 238), InkRequest()).rgb) == 2
