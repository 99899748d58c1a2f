"""A print on the desk: its options, the steps of its edits, what it came to, and whether its art is still the same."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sepkit.errors import UsageError
from sepkit.page.bench_process import PrintTask
from sepkit.page.compute import Compute, WorkError
from sepkit.workshop.page.keep import DeskRow
from sepkit.workshop.print.options import PrintOptions

Stamp = tuple[int, int]
"""Of a file: when it was changed, and its size."""


class StaleError(Exception):
    """A change made on an older revision."""


@dataclass(eq=False)
class OpenPrint:
    """One print on the desk."""

    number: str
    options: PrintOptions
    history: list[dict[str, Any]] = field(default_factory=lambda: [{}])
    at: int = 0
    art_sha256: str = ""
    job: Path | None = None
    """The job file that it came from."""
    rev: int = 0
    state: dict[str, Any] | None = None
    trouble: dict[str, Any] | None = None
    compute: Compute = field(init=False)
    lock: threading.Lock = field(default_factory=threading.Lock)
    _stamp: Stamp | None = None

    def __post_init__(self) -> None:
        self.compute = Compute(PrintTask(self.options, self.job))

    @staticmethod
    def of(row: DeskRow, job: Path | None) -> OpenPrint:
        """Return a print of the desk's file."""
        history = [dict(step) for step in row.history]
        return OpenPrint(row.number, row.options, history, row.at, row.art_sha256, job)

    def row(self) -> DeskRow:
        """Return the print as the desk's file holds it."""
        return DeskRow(self.number, self.options, tuple(self.history), self.at, self.art_sha256)

    @property
    def edits(self) -> dict[str, Any]:
        """The edits as they stand."""
        return self.history[self.at]

    @property
    def of_job(self) -> bool:
        """Whether it came with a job file."""
        return self.job is not None

    def edits_given(self, edits: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """Return edits, those that stand by default, with the art that they were made for."""
        given = dict(self.edits if edits is None else edits)
        return {"art_sha256": self.art_sha256, **given} if given and self.art_sha256 else given

    def art_seen(self) -> None:
        """Take note of the art as it is now; edits stay those of the art that they were made for."""
        self._stamp = self._now()
        if self._stamp is not None and not self.art_sha256:
            with self.options.art.open("rb") as file:
                self.art_sha256 = hashlib.file_digest(file, "sha256").hexdigest()

    @property
    def art_changed(self) -> str:
        """Whether the art was changed ("changed") or taken away ("gone") since it was read; else empty."""
        if self._stamp is None:
            return ""
        now = self._now()
        return "gone" if now is None else "changed" if now != self._stamp else ""

    def check_art(self) -> None:
        """Raise UsageError when the art on the disk is not the one on the table."""
        if self.art_changed:
            words = "is gone" if self.art_changed == "gone" else "was changed since it was laid on the table"
            hint = "take the new art in first, or put the old one back"
            raise UsageError(f"{self.options.art.name} {words}", where="art", hint=hint)

    def pulse(self) -> dict[str, Any]:
        """Return what changes while nobody changes the print."""
        return {"rev": self.rev, "working": self.compute.working(), "art_changed": self.art_changed}

    def shown(self) -> dict[str, Any]:
        """Return what the page is told."""
        return {
            "id": self.number,
            "art": self.options.art.name,
            "garment": self.options.garment,
            "width_mm": self.options.width_mm,
            "inks": self.options.inks,
            "screens": self.options.screens,
            "kind": self.options.kind,
            "placement": self.options.placement,
            "of_job": self.of_job,
            "undo": self.at,
            "redo": len(self.history) - 1 - self.at,
            "edits": self.edits,
            "state": self.state,
            "trouble": self.trouble,
            **self.pulse(),
        }

    def _now(self) -> Stamp | None:
        try:
            stat = self.options.art.stat()
        except OSError:
            return None
        return stat.st_mtime_ns, stat.st_size


def trouble_of(error: WorkError) -> dict[str, Any]:
    """Return an error as the page is told it."""
    trouble = error.trouble
    return {"error": trouble.error, "hint": trouble.hint, "code": trouble.code} | (
        {"more": list(trouble.more)} if trouble.more else {}
    )
