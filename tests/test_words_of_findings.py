"""Every finding about a print says its fact in at most twelve words, and what to do in as many.

Told from the source: each text that a call of Finding (or of what makes findings) can produce, names that stand in
local variables followed to where they are set; a figure or a name put in counts as one word.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest

import sepkit

MOST = 12
ROOT = Path(sepkit.__file__).parent
ELSEWHERE = (
    "workshop/drop",
    "workshop/gang",
    "workshop/photo",
    "workshop/inks",
    "press/gang",
    "press/wedge_reading.py",
    "inks",
    "files/shelf",
)
"""Rooms whose findings are not about one print."""
MADE_BY = {"Finding": (2, 3), "KindOfArt": (2,), "_Kind": (2,)}
"""What is called, and which of its arguments are words that people read."""
NAMES = {"text": 2, "hint": 3}


def texts(node: ast.expr, where: ast.AST) -> list[str]:
    """Return the texts that an expression can be; what is not known is one word."""
    match node:
        case ast.Constant(value=str(text)):
            return [text]
        case ast.JoinedStr(values=parts):
            return ["".join(one) for one in product(*[texts(part, where) for part in parts])]
        case ast.FormattedValue(value=value):
            return texts(value, where) if isinstance(value, ast.IfExp | ast.Constant) else ["X"]
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return [a + b for a, b in product(texts(left, where), texts(right, where))]
        case ast.IfExp(body=body, orelse=other):
            return texts(body, where) + texts(other, where)
        case ast.Name(id=name):
            found = [
                text
                for one in ast.walk(where)
                if isinstance(one, ast.Assign) and any(isinstance(t, ast.Name) and t.id == name for t in one.targets)
                for text in texts(one.value, where)
            ]
            return found or ["X"]
    return ["X"]


def calls(tree: ast.Module) -> Iterator[tuple[ast.Call, ast.AST, str]]:
    """Return each call that makes words, with the function that it stands in."""
    for scope in ast.walk(tree):
        if isinstance(scope, ast.FunctionDef | ast.Module):
            inside = scope.body if isinstance(scope, ast.FunctionDef) else [tree]
            for statement in inside:
                for node in ast.walk(statement):
                    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MADE_BY:
                        yield node, scope, node.func.id


def told(path: Path) -> Iterator[tuple[int, str]]:
    for node, scope, name in calls(ast.parse(path.read_text(encoding="utf-8"))):
        given = dict(enumerate(node.args)) | {NAMES.get(one.arg or "", -1): one.value for one in node.keywords}
        for at in MADE_BY[name]:
            if at in given:
                yield from ((node.lineno, text) for text in texts(given[at], scope))


def modules() -> list[str]:
    every = (str(path.relative_to(ROOT)) for path in ROOT.rglob("*.py"))
    makes = [one for one in every if not one.startswith(ELSEWHERE) and next(told(ROOT / one), None) is not None]
    return sorted(makes)


@pytest.mark.parametrize("module", modules())
def test_fact_and_hint_have_at_most_twelve_words(module: str) -> None:
    long = sorted(
        {
            f"line {line}, {len(text.split())} words: {text}"
            for line, text in told(ROOT / module)
            if len(text.split()) > MOST
        }
    )
    assert not long, "\n".join(long)


def test_long_words_are_noticed() -> None:
    lines = (
        "def f(a):",
        "    text = 'one' if a else 'w w w w w w w w w w w w'",
        "    return Finding('c', 'i', text + f' {a}')",
    )
    source = "\n".join(lines)
    (node, scope, _), *_ = calls(ast.parse(source))
    assert max(len(one.split()) for one in texts(node.args[2], scope)) == MOST + 1
