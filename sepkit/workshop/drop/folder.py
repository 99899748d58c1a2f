"""The folder of a job on disk: what an earlier run left there, and whether it may be replaced.

In: the folder. Out: JobFolder, its record and what was changed since. The record lists every file with size and time,
so a folder that the same job file made may be replaced as long as nobody else has put or changed a file in it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sepkit.errors import WriteError
from sepkit.workshop.drop.forms import is_form
from sepkit.workshop.drop.record import SCHEMA

RECORD = "job.json"


@dataclass(frozen=True, slots=True, eq=False)
class JobFolder:
    """A job folder as an earlier run left it."""

    folder: Path
    record: dict[str, Any]

    @property
    def prints(self) -> Mapping[str, str]:
        """The digest of each print, and its folder below this one."""
        return {str(entry["digest"]): str(entry["folder"]) for entry in self.record.get("prints", [])}

    def changed_files(self) -> list[str]:
        """Return files that were changed, removed or added since the record was written, forms left out."""
        now = _files(self.folder)
        now.pop(RECORD, None)
        then = self.record.get("files", {})
        return [name for name in dict.fromkeys([*then, *now]) if then.get(name) != now.get(name) and not is_form(name)]

    def is_up_to_date(self, digest: str) -> bool:
        """Tell whether it holds just what a job of this digest would give."""
        return self.record.get("digest") == digest and not self.changed_files()

    def check_replaceable(self, job_file: Path) -> None:
        """Raise WriteError when another job file made it, or when a file in it is a person's own."""
        if self.record.get("job_file") != str(job_file.resolve()):
            raise WriteError(
                "holds another job", where=str(self.folder), hint="give another folder with -o, or --force"
            )
        changed = self.changed_files()
        if changed:
            raise WriteError(
                f"{changed[0]} is not as sepkit left it",
                where=str(self.folder),
                hint="move your own files out, or --force to lose them",
            )


def read_job_folder(folder: Path) -> JobFolder | None:
    """Return a job folder that stands, None where there is none."""
    file = folder / RECORD
    if folder.is_symlink() or file.is_symlink() or not file.is_file():
        return None
    try:
        record = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    ours = isinstance(record, dict) and record.get("schema") == SCHEMA
    return JobFolder(folder, record) if ours else None


def check_target(target: Path, old: JobFolder | None, job_file: Path, *, force: bool) -> None:
    """Raise WriteError when ``target`` must not be replaced."""
    from sepkit.files.folders.write import check_writable

    if old is not None and not force:
        old.check_replaceable(job_file)
    check_writable(target, force=force or old is not None)


def write_record(folder: Path, record: Mapping[str, Any]) -> dict[str, Any]:
    """Write the record into a folder that is else complete; return it with the files that it lists."""
    whole = {**record, "files": _files(folder)}
    (folder / RECORD).write_text(json.dumps(whole, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return whole


def _files(folder: Path) -> dict[str, list[int]]:
    """Return every file below a folder with its size and time."""
    out = {}
    for file in sorted(folder.rglob("*")):
        if file.is_file():
            facts = file.stat()
            out[file.relative_to(folder).as_posix()] = [facts.st_size, facts.st_mtime_ns]
    return out
