"""What lies on the desk: prints that are open, their edits with undo, and the file that brings all of it back.

One writer: every change carries the revision that it was made on, and one made on an older is refused. The desk's file
and each print's edits are written at once, whole or not at all.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sepkit.errors import NotFoundError, SepkitError, UsageError
from sepkit.page.changes import changed
from sepkit.page.compute import Compute, WorkError
from sepkit.workshop.page.keep import DeskRow, art_kept, read_desk, save_desk, save_edits
from sepkit.workshop.print.options import PrintOptions

MOST_AT_WORK = 2
"""Prints whose process is kept: each holds its art and areas in memory."""
MOST_UNDO = 500


class StaleError(Exception):
    """A change made on an older revision."""


@dataclass(eq=False)
class OpenPrint:
    """One print on the desk."""

    number: str
    options: PrintOptions
    history: list[dict[str, Any]] = field(default_factory=lambda: [{}])
    at: int = 0
    rev: int = 0
    state: dict[str, Any] | None = None
    trouble: dict[str, Any] | None = None
    compute: Compute = field(init=False)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.compute = Compute(self.options)

    @property
    def edits(self) -> dict[str, Any]:
        """The edits as they stand."""
        return self.history[self.at]

    def shown(self) -> dict[str, Any]:
        """Return what the page is told."""
        step = self.compute.step
        return {
            "id": self.number,
            "rev": self.rev,
            "art": self.options.art.name,
            "garment": self.options.garment,
            "width_mm": self.options.width_mm,
            "inks": self.options.inks,
            "undo": self.at,
            "redo": len(self.history) - 1 - self.at,
            "edits": self.edits,
            "working": None if step is None else {"stage": step[0], "done": step[1], "total": step[2]},
            "state": self.state,
            "trouble": self.trouble,
        }


class Desk:
    """The desk of a working folder. ``folder`` is where print folders go; the desk's own files go below it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.Lock()
        self._prints: dict[str, OpenPrint] = {}
        self._used: list[str] = []
        for row in read_desk(folder):
            one = OpenPrint(row.number, row.options, [dict(step) for step in row.history], row.at)
            self._prints[one.number] = one

    def prints(self) -> list[OpenPrint]:
        """Return the prints, oldest first."""
        with self._lock:
            return list(self._prints.values())

    def find(self, number: str) -> OpenPrint:
        """Return a print. Raises NotFoundError."""
        with self._lock:
            if number not in self._prints:
                raise NotFoundError("there is no such print on the desk", where="print", hint="open the art again")
            return self._prints[number]

    def keep_art(self, name: str, data: bytes) -> str:
        """Keep art that was dropped; return the name that it is kept under."""
        return art_kept(self.folder, name, data).name

    def add(self, options: PrintOptions) -> OpenPrint:
        """Put a print on the desk; it is opened by ``open``."""
        with self._lock:
            number = str(1 + max((int(one) for one in self._prints), default=0))
            self._prints[number] = OpenPrint(number, options)
            self._save()
            return self._prints[number]

    def drop(self, number: str) -> None:
        """Take a print off the desk; its folders and edits stay."""
        one = self.find(number)
        one.compute.close()
        with self._lock:
            self._prints.pop(number, None)
            self._save()

    def open(self, one: OpenPrint) -> None:
        """Separate and decide a print, in the caller's thread; what goes wrong stands in ``trouble``."""
        self._make_room(one)
        with one.lock:
            if one.state is not None and one.compute.alive:
                return
            try:
                one.compute.open()
                call = ("edit", {"edits": one.edits}) if one.edits else ("state", None)
                one.state, one.trouble = one.compute.call(*call), None
            except WorkError as error:
                one.trouble = trouble_of(error)
            one.rev += 1

    def change(self, one: OpenPrint, rev: int, change: Mapping[str, Any]) -> None:
        """Make a change. Raises StaleError, UsageError, WorkError; then the print is as it was."""
        with one.lock:
            self._current(one, rev)
            edits = changed(one.edits, change)
            self._settle(one, edits)
            del one.history[one.at + 1 :]
            one.history.append(edits)
            del one.history[: max(0, len(one.history) - MOST_UNDO)]
            one.at = len(one.history) - 1
            self._written(one)

    def step(self, one: OpenPrint, rev: int, by: int) -> None:
        """Undo (-1) or redo (+1). Raises StaleError, UsageError, WorkError."""
        with one.lock:
            self._current(one, rev)
            if not 0 <= one.at + by < len(one.history):
                raise UsageError("nothing to undo" if by < 0 else "nothing to redo", where="edit")
            self._settle(one, one.history[one.at + by])
            one.at += by
            self._written(one)

    def ask(self, one: OpenPrint, call: str, arguments: Mapping[str, Any] | None = None) -> Any:
        """Return what a call of the print's process gives. Raises WorkError."""
        self._make_room(one)
        return one.compute.call(call, arguments, after=one.edits)

    def close(self) -> None:
        """End all processes."""
        for one in self.prints():
            one.compute.close()

    def _current(self, one: OpenPrint, rev: int) -> None:
        if rev != one.rev:
            raise StaleError
        self._make_room(one)

    def _settle(self, one: OpenPrint, edits: Mapping[str, Any]) -> None:
        one.state = one.compute.call("edit", {"edits": edits}, after=one.edits)

    def _written(self, one: OpenPrint) -> None:
        one.rev += 1
        one.trouble = None
        try:
            save_edits(self.folder, one.number, one.compute.call("edits_text"))
            with self._lock:
                self._save()
        except SepkitError as error:  # a full disk: the edit holds in memory, and the page says that it is not kept
            one.trouble = {"error": str(error), "hint": "the change is made, but not kept on the disk", "code": 7}

    def _save(self) -> None:
        rows = [DeskRow(one.number, one.options, tuple(one.history), one.at) for one in self._prints.values()]
        save_desk(self.folder, rows)

    def _make_room(self, one: OpenPrint) -> None:
        with self._lock:
            if one.number in self._used:
                self._used.remove(one.number)
            self._used.append(one.number)
            late = [self._prints[n] for n in self._used[:-MOST_AT_WORK] if n in self._prints]
            self._used = self._used[-MOST_AT_WORK:]
        for other in late:
            other.compute.close()


def trouble_of(error: WorkError) -> dict[str, Any]:
    """Return an error as the page is told it."""
    return {"error": error.trouble.error, "hint": error.trouble.hint, "code": error.trouble.code}
