"""The person's own press file: measured numbers written into one press's entry, the rest of the file left as it is.

In: presses.toml text, a press, numbers. Out: the new text. What such a file holds: presses.py.
"""

from __future__ import annotations

import itertools
import json
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import DataFileError, Problem, UsageError
from sepkit.files.shelf.folders import OWN_FOLDER_VARIABLE
from sepkit.files.shelf.presses import MEASURED_KEYS
from sepkit.files.toml.keys import span
from sepkit.files.toml.read import parse_toml

if TYPE_CHECKING:
    from sepkit.model import Press

_HEADER = re.compile(r"^\s*\[")
_NAME = re.compile(r"""^\s*name\s*=\s*["'](.*?)["']""")


def own_press_file() -> Path:
    """Return presses.toml of the person's own folder (SEPKIT_RECIPES). Raises UsageError when there is none."""
    own = os.environ.get(OWN_FOLDER_VARIABLE, "").strip()
    if not own:
        raise UsageError(
            f"there is no folder of your own: {OWN_FOLDER_VARIABLE} is not set",
            where="press file",
            hint="set it to a folder for your own garments and presses, or name a file with --to presses.toml",
        )
    return Path(own).expanduser() / "presses.toml"


def with_measured(text: str, press: Press, numbers: Mapping[str, float], *, file: Path) -> str:
    """Return the file's text with ``numbers`` in the entry of ``press``; an entry is added when there is none.

    Raises DataFileError for a file that is not TOML, and for numbers that no press has.
    """
    _check_toml(text, file)
    _check_numbers(numbers, file)
    lines = text.removesuffix("\n").split("\n") if text else []
    start, end = _entry(lines, press.name)
    if start < 0:
        name = json.dumps(press.name, ensure_ascii=False)
        head = [
            "",
            "[[press]]",
            f"name = {name}",
            f"heads = {press.heads}",
            f"platens = {press.platens}",
            f"platen_width_mm = {press.platen_width_mm:g}",
            f"platen_height_mm = {press.platen_height_mm:g}",
            f"register_error_mm = {press.register_error_mm:g}",
        ]
        start = len(lines) + 1
        lines += head
        end = len(lines)
    for key, value in numbers.items():
        line = f"{key} = {value:g}"
        at = next((n for n in range(start, end) if re.match(rf"^\s*{key}\s*=", lines[n])), -1)
        if at >= 0:
            comment = re.search(r"\s+#.*$", lines[at])
            lines[at] = line + (comment[0] if comment else "")
        else:
            lines.insert(end, line)
            end += 1
    new = "\n".join(lines).lstrip("\n") + "\n"
    _check_toml(new, file)
    return new


def _entry(lines: list[str], name: str) -> tuple[int, int]:
    """Return where the entry of a press starts, and the line after its last one; (-1, -1) when it is not there."""
    heads = [n for n, line in enumerate(lines) if _HEADER.match(line)] + [len(lines)]
    for start, stop in itertools.pairwise(heads):
        if "".join(lines[start].split()).split("#")[0] != "[[press]]":
            continue
        names = [match[1] for line in lines[start:stop] if (match := _NAME.match(line))]
        if any(found.lower() == name.lower() for found in names):
            while stop > start and not lines[stop - 1].strip():
                stop -= 1
            return start, stop
    return -1, -1


def _check_toml(text: str, file: Path) -> None:
    parse_toml(text, where=str(file), what="a press")


def _check_numbers(numbers: Mapping[str, float], file: Path) -> None:
    """Nothing is written that could not be read back."""
    keys = {key.name: key for key in MEASURED_KEYS}
    wrong = [
        Problem(f"would be {value:g}", f"a press has {span(keys[name])}: measure again", name)
        for name, value in numbers.items()
        if not keys[name].least <= value <= keys[name].most
    ]
    if wrong:
        raise DataFileError(*wrong, where=str(file))
