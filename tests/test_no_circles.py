"""No module imports itself by way of others: imports for type checkers and inside functions count."""

from __future__ import annotations

import ast
from pathlib import Path

import sepkit

ROOT = Path(sepkit.__file__).parent


def imports() -> dict[str, set[str]]:
    """Return each module's imports of other modules of ours."""
    files = {_name(path): path for path in ROOT.rglob("*.py") if "_data" not in path.parts}
    found: dict[str, set[str]] = {}
    for name, path in files.items():
        targets = set()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                whole = {f"{node.module}.{alias.name}" for alias in node.names}
                targets |= {one if one in files else node.module for one in whole}
            elif isinstance(node, ast.Import):
                targets |= {alias.name for alias in node.names}
        found[name] = {target for target in targets if target in files and target != name}
    return found


def _name(path: Path) -> str:
    return ".".join(("sepkit", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")


def test_nothing_imports_in_a_circle() -> None:
    left = imports()
    assert len(left) > 200
    while True:
        ends = {name for name, targets in left.items() if not targets & left.keys()}
        if not ends:
            break
        left = {name: targets for name, targets in left.items() if name not in ends}
    starts = {target for targets in left.values() for target in targets}
    circle = sorted(name for name in left if name in starts)
    assert not circle
