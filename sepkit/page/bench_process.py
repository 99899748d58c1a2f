"""The process that computes for the page, and may be killed without harm to the server.

It holds a print open, or, given a folder, works at the benches beside the table (drop, inks, photographs).
In: (call, arguments) through a pipe. Out: ("step", stage, done, total) while it works, then ("done", value) or
("error", Trouble). A killed one is started again and given its print and edits anew.
"""

from __future__ import annotations

import signal
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import DataFileError, SepkitError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from multiprocessing.connection import Connection

    from sepkit.workshop.print.options import PrintOptions
    from sepkit.workshop.print.session import Session


@dataclass(frozen=True, slots=True)
class Trouble:
    """An error as the page shows it."""

    error: str
    hint: str
    code: int
    more: tuple[str, ...] = ()
    """All that is wrong, where it is several things."""


@dataclass(frozen=True, slots=True)
class PrintTask:
    """A print to hold open."""

    options: PrintOptions
    job: Path | None = None
    """The job file that it belongs to."""


def run(pipe: Connection, task: PrintTask | Path) -> None:
    """Open the print or the folder, then answer calls until the pipe closes. The first answer is that of opening."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends it
    work: list[Callable[[str, Mapping[str, Any]], Any]] = []

    def opened() -> str:
        work.append(_folder_work(task, pipe) if isinstance(task, Path) else _print_work(task, pipe))
        return "open"

    if not _told(pipe, opened):
        return
    while True:
        try:
            call, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        _told(pipe, lambda: work[0](call, arguments))  # noqa: B023 - called at once


def _print_work(task: PrintTask, pipe: Connection) -> Callable[[str, Mapping[str, Any]], Any]:
    from sepkit.page.calls import answer
    from sepkit.page.wire import garment_bytes
    from sepkit.workshop.print.session import Session

    session: Session = Session(task.options, job=task.job, pack=garment_bytes, progress=_Steps(pipe))
    return lambda call, arguments: answer(session, call, arguments, _Steps(pipe))


def _folder_work(folder: Path, pipe: Connection) -> Callable[[str, Mapping[str, Any]], Any]:
    from sepkit.page.bench_calls import answer

    return lambda call, arguments: answer(folder, call, arguments, _Steps(pipe))


def _told(pipe: Connection, work: Any) -> bool:
    """Do some work and send what came of it; return whether it went well."""
    try:
        value = work()
    except SepkitError as error:
        pipe.send(("error", Trouble(_line(error), error.hint, error.exit_code, _more(error))))
        return False
    except MemoryError:
        pipe.send(
            ("error", Trouble("not enough memory for this print", "close other programs, or give smaller art", 4))
        )
        return False
    except Exception as error:  # a bug of ours must not end the page
        text = f"a bug in sepkit: {type(error).__name__}: {error}"
        pipe.send(("error", Trouble(text, "please report it with what you did", 70)))
        return False
    pipe.send(("done", value))
    return True


def _line(error: SepkitError) -> str:
    head = f"{error.where}: " if error.where else ""
    return one_line(f"{head}{error.text}")


def one_line(text: str) -> str:
    """Return words that may hold what somebody sent, as one line of characters that show."""
    return "".join(c if c.isprintable() else "\ufffd" for c in text)


def _more(error: SepkitError) -> tuple[str, ...]:
    """Return all that a file or a check found wrong."""
    if isinstance(error, DataFileError):
        return tuple(f"line {one.line}: {one.text}" if one.line else one.text for one in error.problems)
    found = (one for one in getattr(error, "findings", ()) if one.level != "info")
    return tuple(f"{one.text}. {one.hint}" if one.hint else one.text for one in found)


class _Steps:
    """Progress through the pipe."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe

    def step(self, stage: str, done: int, total: int) -> None:
        """Send a step."""
        self._pipe.send(("step", stage, done, total))
