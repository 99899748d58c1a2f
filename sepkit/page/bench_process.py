"""The process that holds a print open for the page: it computes, and may be killed without harm to the server.

In: (call, arguments) through a pipe. Out: ("step", stage, done, total) while it works, then ("done", value) or
("error", Trouble). A killed one is started again and given its print and edits anew.
"""

from __future__ import annotations

import signal
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sepkit.errors import SepkitError

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from sepkit.workshop.print.options import PrintOptions
    from sepkit.workshop.print.session import Session


@dataclass(frozen=True, slots=True)
class Trouble:
    """An error as the page shows it."""

    error: str
    hint: str
    code: int


def run(pipe: Connection, options: PrintOptions) -> None:
    """Open the print, then answer calls until the pipe closes. The first answer is that of opening."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends it
    from sepkit.page.calls import answer
    from sepkit.workshop.print.session import Session

    session: list[Session] = []

    def opened() -> str:
        session.append(Session(options, progress=_Steps(pipe)))
        return "open"

    if not _told(pipe, opened):
        return
    while True:
        try:
            call, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        _told(pipe, lambda: answer(session[0], call, arguments, _Steps(pipe)))  # noqa: B023 - called at once


def _told(pipe: Connection, work: Any) -> bool:
    """Do some work and send what came of it; return whether it went well."""
    try:
        value = work()
    except SepkitError as error:
        pipe.send(("error", Trouble(_line(error), error.hint, error.exit_code)))
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
    return f"{head}{error.text}"


class _Steps:
    """Progress through the pipe."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe

    def step(self, stage: str, done: int, total: int) -> None:
        """Send a step."""
        self._pipe.send(("step", stage, done, total))
