"""The server's end of a bench process: one call at a time, its progress, and its end when it is told or dies."""

from __future__ import annotations

import multiprocessing
import threading
from typing import TYPE_CHECKING, Any

from sepkit.page import bench_process
from sepkit.page.bench_process import Trouble

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from sepkit.page.bench_process import PrintTask

STOPPED = Trouble("stopped", "nothing was changed", 0)
DIED = Trouble("the work ended before it was done: the machine may be short of memory", "try again, or smaller art", 70)


class WorkError(Exception):
    """A call that came to nothing; ``trouble`` says why."""

    def __init__(self, trouble: Trouble) -> None:
        super().__init__(trouble.error)
        self.trouble = trouble


class Compute:
    """A bench process of one print, or of a folder. Calls from several threads wait for each other."""

    def __init__(self, task: PrintTask | Path) -> None:
        self.task = task
        self.step: tuple[str, int, int] | None = None
        """What it is at, while it works."""
        self._lock = threading.Lock()
        self._process: Any = None
        self._pipe: Any = None
        self._stopping = False
        self._ended = False

    def working(self) -> dict[str, Any] | None:
        """Return what it is at, as the page is told it; None while it rests."""
        step = self.step
        return None if step is None else {"stage": step[0], "done": step[1], "total": step[2]}

    @property
    def alive(self) -> bool:
        """Whether the process is there."""
        return self._process is not None and self._process.is_alive()

    def open(self) -> None:
        """Start the process and open the print, unless it is open. Raises WorkError."""
        with self._lock:
            self._open()

    def call(
        self, name: str, arguments: Mapping[str, Any] | None = None, *, after: Mapping[str, Any] | None = None
    ) -> Any:
        """Return what a call gives; a process that is gone is started anew and given ``after``, its edits, first.

        Raises WorkError.
        """
        with self._lock:
            if not self.alive:
                self._open()
                if after:
                    self._ask("edit", {"edits": after})
            return self._ask(name, arguments or {})

    def stop(self) -> None:
        """End what it is at: the process is killed, and the next call starts another. One that rests is left alone."""
        if self.step is not None:
            self._end()

    def _end(self) -> None:
        self._stopping = True
        process = self._process
        if process is not None:
            process.kill()

    def close(self) -> None:
        """End the process; the next call starts another."""
        self._end()
        with self._lock:
            self._gone()

    def end(self) -> None:
        """End the process for good: no call starts another."""
        self._ended = True
        self.close()

    def _open(self) -> None:
        if self.alive:
            return
        self._stopping = False
        if self._ended:  # looked at after the line above: told between them, it is told below
            raise WorkError(STOPPED)
        self.step = ("starting", 0, 1)
        try:
            self._process = self._started()
        except (EOFError, OSError):  # the first where the server of forks itself has no room for another
            self.step = None
            self._gone()
            raise WorkError(DIED) from None
        if self._stopping:  # told so while it was on its way
            self._process.kill()
        self._answer()

    def _started(self) -> Any:
        names = multiprocessing.get_all_start_methods()
        context: Any = multiprocessing.get_context("forkserver" if "forkserver" in names else "spawn")
        self._pipe, other = context.Pipe()
        with other:
            process = context.Process(target=bench_process.run, args=(other, self.task), daemon=False)
            process.start()
        return process

    def _ask(self, name: str, arguments: Mapping[str, Any]) -> Any:
        self._stopping = False
        self.step = ("working", 0, 1)
        try:
            self._pipe.send((name, dict(arguments)))
        except OSError:
            self._gone()
            raise WorkError(DIED) from None
        return self._answer()

    def _answer(self) -> Any:
        try:
            while True:
                kind, *rest = self._pipe.recv()
                if kind == "step":
                    self.step = (rest[0], rest[1], rest[2])
                elif kind == "done":
                    return rest[0]
                else:
                    raise WorkError(rest[0])
        except (EOFError, OSError):
            self._gone()
            raise WorkError(STOPPED if self._stopping else DIED) from None
        finally:
            self.step = None

    def _gone(self) -> None:
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            self._process.join(5)
        self._process = self._pipe = None
