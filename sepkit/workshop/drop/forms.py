"""Forms that a person has filled in, kept when the job folder is made again.

In: the folder as it stands, the one that takes its place. Out: the forms in the new one: the filled run.csv in the
place of the empty one where it is of the same plan, else under a name of its own.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Mapping
from pathlib import Path

from sepkit.errors import SepkitError
from sepkit.files.run_csv import read_run_csv

FORM = "run.csv"
KEPT = "run-*.csv"


def is_form(name: str) -> bool:
    """Tell whether a file of a job folder is a form, which is the person's own."""
    return name == FORM or (Path(name).match(KEPT) and "/" not in name)


def keep_forms(old: Path, new: Path, written: Mapping[str, str]) -> tuple[str, ...]:
    """Keep the forms of a job folder in the one that takes its place; return under which names.

    ``written`` are the digests of forms as they were written: these hold nothing of the person's. What is no form any
    more, as a spreadsheet saves it, is kept too.
    """
    out = []
    for file in sorted(old.glob("run*.csv")):
        if not is_form(file.name) or file.is_symlink() or form_digest(file) == written.get(file.name):
            continue
        name = file.name
        if name == FORM and _plan_of(file) != _plan_of(new / FORM):
            name = f"run-{form_digest(file)[:8]}.csv"
        shutil.copy2(file, new / name)
        out.append(name)
    return tuple(out)


def form_digest(file: Path) -> str:
    """Return a digest of a form's bytes."""
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _plan_of(file: Path) -> str | None:
    """Return the title and mark of the plan that a form is of; None for what is no form."""
    try:
        return next((row.run for row in read_run_csv(file)), None)
    except (SepkitError, OSError):
        return None
