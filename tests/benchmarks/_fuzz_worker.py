"""One process of the fuzz run: reads broken files one by one and tells what came of each.

It sits in a folder of its own; whatever Python opens for writing, moves or removes elsewhere, any socket and any
started process is noted by an audit hook. Peak memory is the system's own count, set back before each input.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import shutil
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

from tests.benchmarks._mutate import broken
from tests.benchmarks._readers import OUTPUTS, SHARES, Bench, place, read, words
from tests.benchmarks._seeds import job_record, print_folder, seeds

DOCUMENTED = frozenset({0, 2, 3, 4, 5, 6, 7, 8, 9})
"""Exit codes of the README that broken input may end in."""
MOST_LINE = 1000
KINDS = tuple(kind for kind, share in SHARES.items() for _ in range(share))
COMMAND_EVERY = 12
_WRITES = frozenset(
    {"os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod"}
)
_NEVER = (
    "socket.connect",
    "socket.getaddrinfo",
    "socket.bind",
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.fork",
    "os.posix_spawn",
    "urllib.Request",
    "webbrowser.open",
)


@dataclass(slots=True)
class Outcome:
    """What came of one input."""

    index: int
    kind: str
    verdict: str
    """fine, refused, or what is wrong: traceback, exit, words, noise, stray."""
    seconds: float = 0.0
    """By the clock."""
    cpu_s: float = 0.0
    """Of the processor, with the processes that were started for it."""
    peak_mb: float = 0.0
    command: bool = False
    detail: str = ""


@dataclass(slots=True)
class Watch:
    """What the audit hook saw outside the allowed folder."""

    allowed: str
    strays: list[str] = field(default_factory=list)

    def __call__(self, event: str, args: tuple[object, ...]) -> None:
        """Note a write elsewhere, a socket or a process."""
        if event == "open":
            path, mode, flags = (*args, None, None, None)[:3]
            writes = (isinstance(mode, str) and any(c in mode for c in "wax+")) or (
                mode is None and isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            )
            if writes and isinstance(path, (str, bytes)):
                self._check(event, os.fsdecode(path))
        elif event in _WRITES:
            for path in args[:2] if event in ("os.rename", "os.link") else args[:1]:
                if isinstance(path, (str, bytes)):
                    self._check(event, os.fsdecode(path))
        elif event in _NEVER and "sepkit.files.art.drawing_process" not in repr(args):  # ours, for vector art
            self.strays.append(f"{event} {args!r}"[:200])

    def _check(self, event: str, path: str) -> None:
        full = os.path.realpath(path)
        if not full.startswith(self.allowed) and not full.startswith(
            ("/dev/null", "/dev/tty", f"/proc/{os.getpid()}/")
        ):
            self.strays.append(f"{event} {full}")


class Worker:
    """Seeds, a folder, and the watch."""

    def __init__(self, seed: int, root: Path) -> None:
        self.seed = seed
        self.root = root.resolve()
        for name in ("work", "tmp", "own"):
            (self.root / name).mkdir()
        self.seeds = seeds()
        self.good = self.root / "good"
        print_folder(self.good)
        (self.root / "good.png").write_bytes(self.seeds["png"][0])
        self.seeds |= {"jobfolder": [job_record()], "folder": [(self.good / "separation.json").read_bytes()]}
        self.bench = Bench(self.root / "work", self.root / "own", self.good, self.root / "good.png")
        os.environ["SEPKIT_RECIPES"] = str(self.root / "own")
        tempfile.tempdir = str(self.root / "tmp")
        os.chdir(self.root / "work")
        self.stderr = (self.root / "stderr").open("w+b")
        os.dup2(self.stderr.fileno(), 2)
        self.watch = Watch(str(self.root) + os.sep)
        sys.addaudithook(self.watch)

    def data(self, index: int) -> tuple[str, bytes, random.Random]:
        """Return kind and bytes of an input."""
        kind, rng = kind_of(self.seed, index)
        return kind, broken(kind, rng, self.seeds[kind]), rng

    def run(self, index: int, *, command: bool | None = None) -> Outcome:
        """Read one input, every now and then by a command."""
        kind, data, rng = self.data(index)
        self._clear()
        path = place(kind, data, self.bench, rng, lambda good: broken(kind, rng, [good]))
        before = self._names()
        noise, self.watch.strays[:] = self.stderr.seek(0, 2), []
        by_command = command if command is not None else rng.randrange(COMMAND_EVERY) == 0
        _forget_peak()
        started, used = time.perf_counter(), sum(os.times()[:4])
        verdict, detail = self._command(kind, path, rng) if by_command else self._reader(kind, path, rng)
        took, used = time.perf_counter() - started, sum(os.times()[:4]) - used
        out = Outcome(index, kind, verdict, took, used, _peak_mb(), by_command, detail)
        wrong = self._left_behind(before, verdict, noise)
        if wrong and verdict in ("fine", "refused"):
            out.verdict, out.detail = wrong
        return out

    def _reader(self, kind: str, path: Path, rng: random.Random) -> tuple[str, str]:
        from sepkit.errors import SepkitError

        try:
            read(kind, path, self.bench, rng)
        except SepkitError as error:
            return _judged(error.exit_code, str(error))
        except (Exception, MemoryError):
            return "traceback", traceback.format_exc(limit=-4)
        return "fine", ""

    def _command(self, kind: str, path: Path, rng: random.Random) -> tuple[str, str]:
        from sepkit.cli.main import main

        told, said = io.StringIO(), io.StringIO()
        line = words(kind, path, rng)
        code: object = 0
        with contextlib.redirect_stderr(told), contextlib.redirect_stdout(said):
            try:
                main(line)
            except SystemExit as error:
                code = error.code
            except BaseException:
                return "traceback", traceback.format_exc(limit=-4)
        text = told.getvalue().strip()
        if code in (0, None):
            return "fine", ""
        verdict, detail = _judged(int(str(code)), text.split("\n")[-1])
        return verdict, f"{' '.join(line)}: {detail}" if verdict != "refused" else ""

    def _left_behind(self, before: set[str], verdict: str, noise: int) -> tuple[str, str] | None:
        if self.watch.strays:
            return "stray", "; ".join(self.watch.strays[:3])
        more = self._names() - before
        if any(name not in OUTPUTS for name in more) or (more - {"art-check.png"} and verdict != "fine"):
            return "stray", f"left behind: {sorted(more)}"
        if any((self.root / "tmp").iterdir()):
            return "stray", "left in the temporary folder"
        if self.stderr.seek(0, 2) > noise:
            self.stderr.seek(noise)
            return "noise", self.stderr.read(300).decode("utf-8", "replace")
        return None

    def _names(self) -> set[str]:
        return set(os.listdir(self.root / "work"))  # noqa: PTH208

    def _clear(self) -> None:
        for folder in (self.root / "work", self.root / "own", self.root / "tmp"):
            for path in folder.iterdir():
                shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()


def kind_of(seed: int, index: int) -> tuple[str, random.Random]:
    """Return the kind of an input and the generator that its bytes come from."""
    rng = random.Random(f"{seed}:{index}")
    return rng.choice(KINDS), rng


def work(pipe: Connection, seed: int, root: Path) -> None:
    """Run what the pipe asks for until it says None, in the folder ``root``."""
    _limit_memory()
    worker = Worker(seed, root)
    pipe.send("ready")
    while (index := pipe.recv()) is not None:
        pipe.send(worker.data(index)[0])
        pipe.send(worker.run(index))
    pipe.send(_drawing_peak_mb())
    os.chdir(Path(sys.executable).anchor)


def _judged(code: int, text: str) -> tuple[str, str]:
    """An error must have a documented code and be one clear line without control characters."""
    if code not in DOCUMENTED:
        return "exit", f"exit {code}: {text[:400]}"
    if not text or len(text) > MOST_LINE or any(not c.isprintable() for c in text):
        return "words", f"exit {code}, {len(text)} characters: {text[:300]!r}"
    return "refused", ""


def _limit_memory() -> None:
    """Keep a runaway reader from taking the machine down with it."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (8 << 30, resource.getrlimit(resource.RLIMIT_AS)[1]))


def _forget_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def _drawing_peak_mb() -> float:
    """Return the largest drawing process of all inputs; it starts at no less than the size of its parent."""
    try:
        import resource
    except ImportError:
        return 0.0
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def _peak_mb() -> float:
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
        return int(status.split("VmHWM:")[1].split()[0]) / 1024
    except (OSError, IndexError):
        import resource

        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
