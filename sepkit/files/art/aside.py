"""Vector pages are drawn in a process of their own: one that hangs, fails or eats memory takes nothing down with it.

In: requests with bytes, and how long they may take. Out: answers with bytes, or an ArtworkError of one line.
The process is drawing_process.py; it starts in about a tenth of a second and is ended with its page.
"""

from __future__ import annotations

import json
import signal
import struct
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import IO, Any

import sepkit
from sepkit.errors import ArtworkError

OPEN_S = 10.0
"""Time to look through a file; sound ones take a fraction of a second."""
DRAW_S = 10.0
DRAW_S_PER_PIXEL = 0.75e-6
"""Time to draw grows with the pixels asked for; large art full of blurs needs a fifth of it."""
ENDING_S = 1.0
PATIENCE = 6.0
"""Where the system counts it, this is time of the processor: on a busy computer it may last so many times as long."""
MEMORY = 1_000_000_000
MEMORY_PER_PIXEL = 56
"""Bytes the process may use: a base, and layers of four bytes a pixel."""

COUNTED: int | None = getattr(signal, "SIGPROF", None)
"""What ends a process whose time of the processor is over; Windows has none."""
SIMPLER = "simplify it, or export it as PNG at 300 dpi"

_START = "import sys; sys.path.insert(0, sys.argv[1]); from sepkit.files.art.drawing_process import serve; serve()"


class Aside:
    """One drawing process, started at the first request."""

    def __init__(self, where: str) -> None:
        self.where = where
        self._process: subprocess.Popen[bytes] | None = None
        self._empty: tempfile.TemporaryDirectory[str] | None = None
        self._late = False

    def ask(self, do: str, data: bytes = b"", *, pixels: int = 0, **more: Any) -> tuple[dict[str, Any], bytes]:
        """Return the answer to a request and its bytes.

        Raises ArtworkError when the process says what is wrong, takes too long, or ends.
        """
        seconds = OPEN_S if not pixels else DRAW_S + DRAW_S_PER_PIXEL * pixels
        process = self._started()
        watch = threading.Timer(seconds * (1.0 if COUNTED is None else PATIENCE), self._end_late)
        watch.daemon = True
        watch.start()
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            head = {"do": do, "memory": MEMORY + MEMORY_PER_PIXEL * pixels, "seconds": seconds, **more}
            send(process.stdin, head, data)
            answer = receive(process.stdout)
        except OSError:
            answer = None
        finally:
            watch.cancel()
        if answer is None:
            late = self._was_late(process)
            self.close()
            text = f"takes longer than {seconds:.0f} s to draw" if late else "is too much for the renderer, which ended"
            raise ArtworkError(text, where=self.where, hint=SIMPLER)
        if "refused" in answer[0]:
            raise ArtworkError(str(answer[0]["refused"]), where=self.where, hint=str(answer[0].get("hint", SIMPLER)))
        return answer

    def close(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        if self._empty is not None:
            self._empty.cleanup()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:  # what was not yet sent has nobody to read it
                    continue

    def _started(self) -> subprocess.Popen[bytes]:
        if self._process is None:
            package = str(Path(sepkit.__file__).resolve().parents[1])
            self._late = False
            # It works in an empty folder: a reference that the reader missed leads nowhere.
            self._empty = tempfile.TemporaryDirectory(prefix="sepkit-")
            # -P: nothing is imported from the folder it starts in.
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-c", _START, package],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=self._empty.name,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        return self._process

    def _was_late(self, process: subprocess.Popen[bytes]) -> bool:
        try:
            code = process.wait(ENDING_S)  # its pipe closes a moment before it has ended
        except subprocess.TimeoutExpired:
            code = 0
        return self._late or (COUNTED is not None and code == -COUNTED)

    def _end_late(self) -> None:
        process = self._process
        if process is not None:
            self._late = True
            process.kill()


def send(stream: IO[bytes], head: dict[str, Any], data: bytes) -> None:
    """Write a message: two lengths, a JSON head, bytes."""
    text = json.dumps(head).encode()
    stream.write(struct.pack("<IQ", len(text), len(data)) + text)
    stream.write(data)
    stream.flush()


def receive(stream: IO[bytes]) -> tuple[dict[str, Any], bytes] | None:
    """Read a message; None when the other side has gone."""
    lengths = stream.read(12)
    if len(lengths) < 12:
        return None
    head_bytes, data_bytes = struct.unpack("<IQ", lengths)
    text, data = stream.read(head_bytes), stream.read(data_bytes)
    if len(text) < head_bytes or len(data) < data_bytes:
        return None
    return dict(json.loads(text)), data
