"""Ink files as they are written. What such a file holds: inks.py."""

from __future__ import annotations

import datetime
import re
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.files.shelf.folders import recipe_folders
from sepkit.files.shelf.inks import SCHEMA

if TYPE_CHECKING:
    from sepkit.model import F64, Ink


def ink_toml(ink: Ink, *, extra: str = "") -> str:
    """Return an ink as the text of its file; ``extra`` is TOML appended at the end."""
    lines = [
        f"schema = {quoted(SCHEMA)}",
        f"name = {quoted(ink.name)}",
        f"kind = {quoted(ink.kind)}",
        f"status = {quoted(ink.status)}",
        f"density_g_ml = {ink.density_g_ml:.4g}",
        f"source = {quoted(ink.source)}",
        f"date = {quoted(ink.date)}",
        f"absorption = {_numbers(ink.absorption)}",
        f"scattering = {_numbers(ink.scattering)}",
    ]
    return "\n".join(lines) + "\n" + extra


def new_ink_path(name: str, *, folder: Path | None = None) -> Path:
    """Return where an ink called ``name`` is kept: SEPKIT_RECIPES, else ``recipes`` in the working folder.

    Raises UsageError for a name that cannot be a file name.
    """
    stem = re.sub(r"\s+", "-", name.strip().lower())
    if not re.fullmatch(r"[^\W_][\w.+-]{0,79}", stem):
        raise UsageError(f'"{name}" cannot be an ink name', hint="letters, digits, spaces and - . + only")
    own = recipe_folders()[:-1]
    return (folder or (own[0] if own else Path.cwd() / "recipes") / "inks") / f"{stem}.toml"


def today() -> str:
    """Return today's date as YYYY-MM-DD."""
    return datetime.datetime.now(tz=datetime.UTC).astimezone().date().isoformat()


def quoted(text: str) -> str:
    """Return text as a TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    clean = "".join(c if c.isprintable() else " " for c in escaped)
    return f'"{clean}"'


def _numbers(values: F64) -> str:
    return "[" + ", ".join(f"{v:.5g}" for v in values) + "]"
