"""Where something new is made before it takes its place: names beside the place, held by a lock while the run lives.

In: the place. Out: a Stage whose paths all start with ``.NAME.TOKEN.``. What a killed run left behind is known by its
lock, which the system has let go: the next run into the same place clears it away, and puts an old output back that
the killed run had just moved aside. Two folders are exchanged in one step where the system can (Linux renameat2 with
RENAME_EXCHANGE, macOS renamex_np with RENAME_SWAP).
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import secrets
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_NAME_CHARACTERS = 80
_LOCK = ".lock"
_HELD = frozenset({errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK})
_AT_FDCWD = -100
_EXCHANGE = 2
"""RENAME_EXCHANGE and RENAME_SWAP have the same value."""


@dataclass(frozen=True, slots=True)
class Stage:
    """Names that one run has for itself."""

    place: Path
    token: str

    def path(self, ending: str) -> Path:
        """Return ``.NAME.TOKEN.ending`` beside the place."""
        return self.place.with_name(f"{_prefix(self.place)}{self.token}.{ending}")


@contextlib.contextmanager
def staged(place: Path) -> Iterator[Stage]:
    """Yield a Stage for ``place``; at the end, however it comes, all its paths are gone.

    Raises OSError where nothing can be made beside the place.
    """
    clear_stale(place)
    stage, lock = _locked_stage(place)
    try:
        yield stage
    finally:
        _clear(stage)
        _let_go(stage, lock)


def clear_stale(place: Path) -> None:
    """Remove what runs that were killed left beside ``place``; what belongs to a living run stays."""
    prefix = _prefix(place)
    with contextlib.suppress(OSError):
        locks = [name for name in os.listdir(place.parent) if name.startswith(prefix) and name.endswith(_LOCK)]  # noqa: PTH208
        for name in locks:
            token = name[len(prefix) : -len(_LOCK)]
            if token.isalnum():
                _clear_one(Stage(place, token))


def exchange(one: Path, other: Path) -> bool:
    """Exchange two paths in one step; False where the system cannot, and nothing has changed then."""
    names = os.fsencode(one), os.fsencode(other)
    try:
        libc = ctypes.CDLL(None, use_errno=True)
        if sys.platform == "darwin":
            return int(libc.renamex_np(*names, ctypes.c_uint(_EXCHANGE))) == 0
        return int(libc.renameat2(_AT_FDCWD, names[0], _AT_FDCWD, names[1], ctypes.c_uint(_EXCHANGE))) == 0
    except (OSError, AttributeError, TypeError):  # Windows, or a C library without it
        return False


def _prefix(place: Path) -> str:
    return f".{place.name[:_NAME_CHARACTERS]}."


def _locked_stage(place: Path) -> tuple[Stage, int]:
    while True:
        stage = Stage(place, secrets.token_hex(4))
        lock = os.open(stage.path("lock"), os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666)
        if try_lock(lock) is not False:
            return stage, lock
        os.close(lock)  # another run found it in the moment before, took it for stale and removes it


def _clear_one(stage: Stage) -> None:
    try:
        lock = os.open(stage.path("lock"), os.O_RDWR)
    except OSError:
        return
    if try_lock(lock) is not True:
        os.close(lock)
        return
    _clear(stage)
    _let_go(stage, lock)


def _put_back(stage: Stage) -> None:
    """Put back what was moved aside when nothing new took its place, or not all of it."""
    old, inside = stage.path("old"), stage.path("part") / "old"
    with contextlib.suppress(OSError):
        if old.exists() and not stage.place.exists():
            old.rename(stage.place)
    with contextlib.suppress(OSError):
        for entry in sorted(inside.iterdir()) if inside.is_dir() else ():
            there = stage.place.with_name(entry.name)
            if there.exists():
                there.rename(stage.path("part") / entry.name)
            entry.rename(there)


def _clear(stage: Stage) -> None:
    """Remove all paths of a stage but its lock; an old output that could not be put back stays."""
    _put_back(stage)
    start = stage.path("")
    with contextlib.suppress(OSError):
        for name in os.listdir(stage.place.parent):  # noqa: PTH208
            path = stage.place.with_name(name)
            if not name.startswith(start.name) or name == stage.path("lock").name:
                continue
            if path == stage.path("old") and not stage.place.exists():
                continue
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def _let_go(stage: Stage, lock: int) -> None:
    """Give up the lock; its file stays while anything of the stage does, so that a later run can try again."""
    start, own = stage.path("").name, stage.path("lock")
    with contextlib.suppress(OSError):
        rest = [name for name in os.listdir(own.parent) if name.startswith(start) and name != own.name]  # noqa: PTH208
        if os.name == "nt":  # an open file cannot be removed there
            os.close(lock)
            lock = -1
        if not rest:
            own.unlink(missing_ok=True)
    if lock >= 0:
        os.close(lock)


def try_lock(file: int) -> bool | None:
    """Take the lock of an open file if nobody has it; the system lets go of it when the process ends in any way.

    None where the file system knows no locks: then nothing of others is ever removed.
    """
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return False if error.errno in _HELD else None
    return True
