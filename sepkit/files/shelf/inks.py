"""Ink files as they are read: one ink each, ``inks/NAME.toml`` on a shelf.

    schema = "sepkit.ink/1"
    name = "white"
    kind = "plastisol"            # or "water-based", ...
    status = "estimated"          # or "measured"
    density_g_ml = 1.5
    source = "where the numbers are from"
    date = "2026-01-31"
    absorption = [31 numbers]     # K per coat, 400-700 nm in 10 nm bands
    scattering = [31 numbers]     # S per coat

    [recipe]                      # of an ink that is mixed from others
    target = "sea green"
    target_lab = [L, a, b]        # D65/2, when there was one
    predicted_lab = [L, a, b]
    measured_lab = [L, a, b]      # when it was measured
    parts = [{ ink = "white", grams = 95.0, lot = "" }, ...]

In: a path. Out: InkEntry. Writing them: inkfile.py and ink_recipe.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sepkit.files.toml.keys import Key, choice_key, keys_of
from sepkit.files.toml.read import TomlFile, read_toml
from sepkit.files.toml.table import Table
from sepkit.inks.mixing import masstone_srgb
from sepkit.model import BANDS_NM, INK_STATUSES, LAB, Ink

SCHEMA = "sepkit.ink/1"
MOST_COEFFICIENT = 1e4
BANDS = len(BANDS_NM)

STATUS = choice_key("", "status", "where its numbers come from", INK_STATUSES)
KEYS: tuple[Key, ...] = (
    Key("", "schema", "text", "layout of the file"),
    Key("", "name", "text", "name of the ink", must=True),
    Key("", "kind", "text", "plastisol, water-based, ...", must=True),
    STATUS,
    Key(
        "",
        "density_g_ml",
        "number",
        "weigh 10 ml; inks are near 1.2, whites near 1.5 g/ml",
        "g/ml",
        0.3,
        5,
        must=True,
    ),
    Key("", "source", "text", "where the numbers are from"),
    Key("", "date", "date", "when they were made"),
    Key("", "absorption", "numbers", "K, 400 to 700 nm by 10", "", 0, MOST_COEFFICIENT, must=True, count=BANDS),
    Key("", "scattering", "numbers", "S, 400 to 700 nm by 10", "", 0, MOST_COEFFICIENT, must=True, count=BANDS),
    Key("recipe", "target", "text", "what it was mixed to match"),
    Key("recipe", "target_lab", "numbers", "Lab D65/2 of the target", "", -200, 200, count=3),
    Key("recipe", "predicted_lab", "numbers", "Lab D65/2 as predicted", "", -200, 200, count=3),
    Key("recipe", "measured_lab", "numbers", "Lab D65/2 as measured", "", -200, 200, count=3),
    Key("recipe", "parts", "tables", "what it is mixed from", must=True),
    Key("part", "ink", "text", "an ink of the shelf", must=True),
    Key("part", "grams", "number", "its weight", "g", 0, 1e6, must=True),
    Key("part", "lot", "text", "its lot"),
)


@dataclass(frozen=True, slots=True)
class Part:
    """One ink of a recipe."""

    ink: str
    grams: float
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a kept recipe holds beside its ink."""

    parts: tuple[Part, ...]
    target: str = ""
    target_lab: LAB | None = None
    predicted_lab: LAB | None = None
    measured_lab: LAB | None = None


@dataclass(frozen=True, slots=True, eq=False)
class InkEntry:
    """What an ink file holds."""

    ink: Ink
    recipe: Recipe | None
    """None when it is not mixed from others here."""


def read_ink_file(path: Path) -> InkEntry:
    """Return the ink of a file and its recipe. Raises DataFileError with all that is wrong with it."""
    return ink_entry(read_toml(path, what="an ink", start_hint="check the shelf: sepkit ink list"))


def ink_entry(file: TomlFile) -> InkEntry:
    """Return the ink of a file as parsed, and its recipe. Raises DataFileError with all that is wrong with it."""
    file.of_schema(SCHEMA)
    table = file.top(keys_of(KEYS, ""), ("recipe",))
    recipe = _recipe(file.table("recipe", keys_of(KEYS, "recipe"))) if "recipe" in file.values else None
    name, kind, status = table.text("name"), table.text("kind"), table.choice(STATUS)
    density, source, date = table.number("density_g_ml"), table.text("source"), table.text("date")
    absorption, scattering = (np.array(table.numbers(key), np.float64) for key in ("absorption", "scattering"))
    file.check()  # a colour is computed of sound coefficients only
    srgb = masstone_srgb(absorption, scattering)
    return InkEntry(Ink(name, absorption, scattering, density, kind, status, srgb, source, date), recipe)


def _recipe(table: Table) -> Recipe:
    tables = table.tables("parts", keys_of(KEYS, "part"))
    parts = tuple(Part(part.text("ink"), part.number("grams"), part.text("lot")) for part in tables)
    if parts and not any(part.grams for part in parts) and not any(part.has_problem("grams") for part in tables):
        table.problem("parts", "weigh nothing", "give grams above 0")
    return Recipe(
        parts=parts,
        target=table.text("target"),
        target_lab=_lab(table, "target_lab"),
        predicted_lab=_lab(table, "predicted_lab"),
        measured_lab=_lab(table, "measured_lab"),
    )


def _lab(table: Table, key: str) -> LAB | None:
    values = table.numbers(key)
    return (values[0], values[1], values[2]) if values else None
