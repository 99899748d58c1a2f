"""What lies on the desk: prints that are open, their edits with undo, the drop, and the file that keeps it all.

One writer: every change carries the revision that it was made on, and one made on an older is refused. The desk's file
and each print's edits are written at once, whole or not at all.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import NotFoundError, SepkitError, UsageError
from sepkit.page import asked, drop_desk
from sepkit.page.bench_calls import check
from sepkit.page.changes import changed
from sepkit.page.compute import Compute, WorkError
from sepkit.page.open_print import OpenPrint, StaleError, trouble_of
from sepkit.workshop.page.drop import asked_of_art, job_said, usual_place_name
from sepkit.workshop.page.keep import art_folder, art_here, art_kept, read_desk, save_desk, save_edits
from sepkit.workshop.print.options import PrintOptions

if TYPE_CHECKING:
    from sepkit.workshop.page.start import Start

MOST_AT_WORK = 2
"""Prints whose process is kept: each holds its art and areas in memory."""
MOST_UNDO = 500
BENCHES = ("drop", "ink", "photo")
"""Benches beside the table; each has a process of its own while it works."""
KEPT_BENCHES = ("ink", "drop")
"""Those whose process stays for the next question: they hold little."""

__all__ = ["BENCHES", "Desk", "OpenPrint", "StaleError", "trouble_of"]


class Desk:
    """The desk of a working folder. ``folder`` is where print folders go; the desk's own files go below it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.seen_at = time.monotonic()
        """When a page last asked how things are."""
        self.benches = {name: Compute(folder) for name in BENCHES}
        self._lock = threading.Lock()
        self._prints: dict[str, OpenPrint] = {}
        self._used: list[str] = []
        kept = read_desk(folder)
        self.drop_kept: dict[str, Any] = dict(kept.drop)
        for row in kept.rows:
            of_job = row.number in self.drop_kept.get("tables", {})
            self._prints[row.number] = OpenPrint.of(row, folder / self.drop_kept["job"]["file"] if of_job else None)

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

    def pulse(self) -> dict[str, Any]:
        """Return what a page asks for again and again: revisions, what is at work, what became of the art."""
        self.seen_at = time.monotonic()
        return {
            "prints": {one.number: one.pulse() for one in self.prints()},
            "benches": {name: bench.working() for name, bench in self.benches.items()},
        }

    def busy(self) -> bool:
        """Return whether anything is at work."""
        computes = [*self.benches.values(), *(one.compute for one in self.prints())]
        return any(compute.step is not None for compute in computes)

    def keep_art(self, name: str, data: bytes) -> str:
        """Keep art that was dropped; return the name that it is kept under."""
        return art_kept(self.folder, name, data).name

    def art_here(self) -> list[str]:
        """Return the names of art files that lie in the working folder itself."""
        return art_here(self.folder)

    def art_named(self, name: str) -> Path:
        """Return art that was dropped, or that lies in the working folder. Raises NotFoundError."""
        dropped = art_folder(self.folder) / name
        if name == Path(name).name and not name.startswith("."):
            if dropped.is_file():
                return dropped
            if name in self.art_here():
                return self.folder / name
        raise NotFoundError("no such art", where="art", hint="drop it again")

    def lay(self, start: Start) -> None:
        """Lay what the page starts with, unless it lies here already; prints go of a job file that says else now.

        Raises WriteError.
        """
        job = start.drop.get("job")
        if job is not None and job in (self.drop_kept.get("job"), self.drop_kept.get("wrote")):
            return
        if job is not None and self.drop_kept.get("job", {}).get("file") == job["file"]:
            for number in self.drop_kept.get("tables", {}):
                self._prints.pop(number, None)
        tables = {}
        for one in start.prints:
            if job is None and any(known.options == one.options for known in self.prints()):
                continue
            number = self._next()
            path = None if job is None else self.folder / str(job["file"])
            self._prints[number] = OpenPrint(number, one.options, [dict(one.edits)], job=path)
            tables[number] = dict(one.table)
        if job is not None:
            self.drop_kept = {**start.drop, "tables": tables}
        if start.prints:
            self._save()

    def add(self, options: PrintOptions, *, beside: OpenPrint | None = None) -> OpenPrint:
        """Put a print on the desk; it is opened by ``open``. Beside one of a job file it is of that job too.

        Raises WriteError; then it is not there.
        """
        with self._lock:
            number, before = self._next(), self.drop_kept
            self._prints[number] = OpenPrint(number, options, job=None if beside is None else beside.job)
            if beside is not None and beside.of_job:
                tables = before["tables"]
                table = {**tables[beside.number], **asked_of_art(options)}
                self.drop_kept = {**before, "tables": {**tables, number: table}}
            try:
                self._save()
            except SepkitError:
                del self._prints[number]
                self.drop_kept = before
                raise
            return self._prints[number]

    def drop(self, number: str) -> None:
        """Take a print off the desk; its folders and edits stay."""
        one = self.find(number)
        one.compute.end()
        with self._lock:
            self._prints.pop(number, None)
            for name in ("tables", "places"):  # its number may be another's next
                kept = self.drop_kept.get(name, {})
                if number in kept:
                    self.drop_kept[name] = {key: value for key, value in kept.items() if key != number}
            self._save()

    def open(self, one: OpenPrint) -> None:
        """Separate and decide a print, in the caller's thread; what goes wrong stands in ``trouble``."""
        self._make_room(one)
        with one.lock:
            if one.state is not None and one.compute.alive:
                return
            one.art_seen()
            try:
                one.compute.open()
                call = ("edit", {"edits": one.edits_given()}) if one.edits else ("state", None)
                one.state, one.trouble = one.compute.call(*call), None
            except WorkError as error:
                one.trouble = trouble_of(error)
            one.rev += 1

    def open_again(self, one: OpenPrint) -> None:
        """Read the art anew, and decide with the edits that there are."""
        one.compute.close()
        one.art_sha256, one.state, one.trouble = "", None, None
        self.open(one)
        with self._lock:
            self._save()

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
        return one.compute.call(call, arguments, after=one.edits_given())

    def ask_bench(self, name: str, call: str, arguments: Mapping[str, Any]) -> Any:
        """Return what a call of a bench's process gives. Raises WorkError."""
        bench = self.benches[name]
        check(self.folder, call, arguments)
        try:
            return bench.call(call, arguments)
        finally:
            if name not in KEPT_BENCHES:
                bench.close()

    def drop_shown(self) -> dict[str, Any]:
        """Return what the page is told of the drop."""
        return drop_desk.shown(self.folder, [one.row() for one in self.prints()], self._drop())

    def set_drop(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Take what is typed of the drop. Raises UsageError; then it is as it was."""
        kept = drop_desk.changed(self.drop_kept, body, {one.number for one in self.prints()})
        with self._lock:
            self.drop_kept = kept
            self._save()
        return self.drop_shown()

    def check_drop(self) -> Any:
        """Write the job file and hold it against press and garments. Raises UsageError, WriteError, WorkError."""
        return self.ask_bench("drop", "drop_check", {"file": self._job_file()})

    def plan_drop(self) -> Any:
        """Plan the drop over the prints of the folder that was made last. Raises UsageError, WriteError, WorkError."""
        made = self.drop_kept.get("made")
        if not made:
            raise UsageError("no day was planned yet", where="drop", hint="plan the day and make the films first")
        return self.ask_bench("drop", "drop_plan", {"file": self._job_file(), "folder": made})

    def make_drop(self, body: Mapping[str, Any]) -> Any:
        """Write the job file and make its folder. Raises UsageError, WriteError, WorkError."""
        name = asked.plain_name(body, "folder")
        for one in self.prints():
            one.check_art()
        told = self.ask_bench("drop", "drop_make", {"file": self._job_file(), "folder": name})
        with self._lock:
            self.drop_kept = {**self.drop_kept, "made": told["folder"]}
            self._save()
        return told

    def close(self) -> None:
        """End all processes."""
        for compute in [*self.benches.values(), *(one.compute for one in self.prints())]:
            compute.end()

    def _drop(self) -> dict[str, Any]:
        """Return the drop with the usual place of each print of which nothing is said."""
        usual = {
            one.number: usual_place_name(one.state["width_mm"], one.state["height_mm"])
            for one in self.prints()
            if one.state is not None and one.options.placement is None
        }
        return {**self.drop_kept, "places": {**usual, **self.drop_kept.get("places", {})}}

    def _job_file(self) -> str:
        path = drop_desk.written(self.folder, [one.row() for one in self.prints()], self._drop())
        with self._lock:
            self.drop_kept = {**self.drop_kept, "wrote": job_said(path)}  # opened, it is what lies here already
            self._save()
        return path.name

    def _next(self) -> str:
        return str(1 + max((int(one) for one in self._prints), default=0))

    def _current(self, one: OpenPrint, rev: int) -> None:
        if rev != one.rev:
            raise StaleError
        self._make_room(one)

    def _settle(self, one: OpenPrint, edits: Mapping[str, Any]) -> None:
        one.state = one.compute.call("edit", {"edits": one.edits_given(edits)}, after=one.edits_given())

    def _written(self, one: OpenPrint) -> None:
        one.rev += 1
        one.trouble = None
        try:
            save_edits(self.folder, one.number, one.compute.call("edits_text", after=one.edits_given()))
            with self._lock:
                self._save()
        except SepkitError as error:  # a full disk: the edit holds in memory, and the page says that it is not kept
            one.trouble = {"error": str(error), "hint": "the change is made, but not kept on the disk", "code": 7}

    def _save(self) -> None:
        save_desk(self.folder, [one.row() for one in self._prints.values()], self.drop_kept)

    def _make_room(self, one: OpenPrint) -> None:
        with self._lock:
            if one.number in self._used:
                self._used.remove(one.number)
            self._used.append(one.number)
            late = [self._prints[n] for n in self._used[:-MOST_AT_WORK] if n in self._prints]
            self._used = self._used[-MOST_AT_WORK:]
        for other in late:
            other.compute.close()
