"""presses.toml: presses, and what a calibration print told about them.

    [[press]]
    name = "two-head"
    heads = 2
    platens = 1
    platen_width_mm = 450
    platen_height_mm = 620
    register_error_mm = 0.5
    edge_growth_um = 31.5       # this and what follows: written by `sepkit wedge --read`

In: the files, the person's own first: an entry of the same name there replaces ours. Out: PressEntry by name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sepkit.errors import NotFoundError, near_names
from sepkit.files.toml.keys import Key, keys_of
from sepkit.files.toml.read import TomlFile
from sepkit.files.toml.table import Table, unique
from sepkit.files.words import shown
from sepkit.model import Press

FILE_NAME = "presses.toml"
REFIT_MM, JIG_MM = 0.3, 1.0
"""What holds where the file does not say (from memory)."""
_REGISTER = Key("press", "register_error_mm", "length", "how far two prints may fall apart", "mm", 0, 10, must=True)
SETTINGS: tuple[Key, ...] = (
    Key("press", "heads", "whole", "print heads", "", 1, 20, must=True),
    Key("press", "platens", "whole", "platens", "", 1, 40, must=True),
    Key("press", "platen_width_mm", "length", "platen width", "mm", 50, 2000, must=True),
    Key("press", "platen_height_mm", "length", "platen height", "mm", 50, 2000, must=True),
    _REGISTER,
    Key("press", "platens_come_off", "yes/no", "a platen comes off with its garment on, and goes back"),
    Key("press", "refit_mm", "length", "how far off a platen may go back [0.3 mm]", "mm", 0, 10),
    Key("press", "jig_mm", "length", "how far off a garment loads again against stops [1 mm]", "mm", 0, 10),
)
"""What a press is; a job may say otherwise for itself."""
MEASURED_KEYS: tuple[Key, ...] = (
    _REGISTER,
    Key("press", "edge_growth_um", "number", "how far a printed edge grows", "µm", 0, 300),
    Key("press", "ink_factor", "number", "weighed ink over the computed ink", "", 0.2, 5),
    Key("press", "thinnest_line_mm", "length", "thinnest line that prints", "mm", 0.01, 10),
    Key("press", "thinnest_gap_mm", "length", "narrowest gap that stays open", "mm", 0.01, 10),
    Key("press", "smallest_type_pt", "number", "smallest type that prints", "pt", 1, 100),
    Key("press", "smallest_reversed_pt", "number", "smallest reversed type that stays open", "pt", 1, 100),
    Key("press", "measured_threads_per_cm", "number", "mesh of the calibration print", "threads/cm", 5, 200),
    Key("press", "measured_thread_um", "number", "thread of the calibration print", "µm", 15, 500),
)
"""What a calibration print tells."""
KEYS: tuple[Key, ...] = (
    Key("press", "name", "text", "name of the press", must=True),
    *SETTINGS,
    *(key for key in MEASURED_KEYS if key not in SETTINGS),
)


@dataclass(frozen=True, slots=True)
class PressEntry:
    """A press, and what was measured on it: names with their unit to numbers."""

    press: Press
    measured: Mapping[str, float]


def press_entries(files: Sequence[TomlFile]) -> dict[str, PressEntry]:
    """Return the presses of all files by lower-case name; an entry of an earlier file wins. Raises DataFileError."""
    entries: dict[str, PressEntry] = {}
    for file in files:
        file.top({}, ("press",))
        tables = file.tables("press", keys_of(KEYS, "press"))
        unique(tables, "press")
        for table in tables:
            entry = _entry(table)
            entries.setdefault(entry.press.name.lower(), entry)
        file.check()
    return entries


def press_of(name: str, entries: Mapping[str, PressEntry]) -> Press:
    """Return the press of that name (any case). Raises NotFoundError."""
    text = " ".join(name.split())
    if text.lower() not in entries:
        names = [entry.press.name for entry in entries.values()]
        raise NotFoundError(f'no press is called "{shown(text)}"', where="press", hint=near_names(text, names))
    return entries[text.lower()].press


def _entry(table: Table) -> PressEntry:
    press = Press(
        name=table.text("name"),
        heads=table.whole("heads"),
        platens=table.whole("platens"),
        platen_width_mm=table.number("platen_width_mm"),
        platen_height_mm=table.number("platen_height_mm"),
        register_error_mm=table.number("register_error_mm"),
        platens_come_off=table.yes("platens_come_off"),
        refit_mm=table.number("refit_mm", otherwise=REFIT_MM),
        jig_mm=table.number("jig_mm", otherwise=JIG_MM),
    )
    measured = {key.name: table.number(key.name) for key in MEASURED_KEYS if key.name in table.given}
    return PressEntry(press, measured)
