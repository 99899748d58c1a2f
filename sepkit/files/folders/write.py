"""Writing, whole or not at all: a new print folder, or one file.

In: where it shall stand. Out: a temporary place beside it to write into, moved there in one step when all went well
and removed when anything failed, Ctrl-C included. An old folder is replaced only on request (``force``), only when
it is empty or a print folder of ours, and never half: it stands until the new one is complete. What a run that was
killed left beside the place is cleared away by the next one (stage.py).
Links are not followed at the place itself, so nothing outside the named parent folder is ever replaced.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from sepkit.errors import SepkitError, WriteError
from sepkit.files.folders.stage import Stage, clear_stale, exchange, staged

MARKERS = ("separation.json", "prints.json", "job.json", "gang.json", "inspection.json")
"""A folder with one of these, holding a "sepkit." schema, is ours and may be replaced with ``force``."""

_REASONS = {
    errno.ENOSPC: ("the disk is full", "free some space, or write to another disk"),
    errno.EDQUOT: ("the disk quota is used up", "free some space, or write to another disk"),
    errno.EROFS: ("the disk is read-only", "write to another folder"),
    errno.EACCES: ("no permission to write here", "choose a folder of your own with -o"),
    errno.EPERM: ("no permission to write here", "choose a folder of your own with -o"),
    errno.ENAMETOOLONG: ("the name is too long", "choose a shorter name"),
    errno.ENOTDIR: ("a part of this path is a file", "choose another place with -o"),
    errno.EFBIG: ("the file is too big for this disk", "write to another disk"),
    errno.EIO: ("the disk reports an error", "write to another disk"),
}


@contextmanager
def new_folder(target: str | os.PathLike[str], *, force: bool) -> Iterator[Path]:
    """Yield an empty folder beside ``target``; it becomes ``target`` when the block ends without an error.

    Parameters
    ----------
    target
        The folder to make. Missing parents are made. An empty folder of that name is taken over.
    force
        Replace a print folder of that name. Another kind of folder is never replaced.

    Raises
    ------
    WriteError
        The place is taken, is a file or a link, or cannot be written (no permission, disk full).
    """
    place = _absolute(target)
    clear_stale(place)
    _refuse_taken(place, force=force)
    made = _make_parents(place.parent)
    done = False
    try:
        with _staged(place) as stage:
            part = _make_beside(stage)
            with _write_errors(place, inside=part):
                yield part
                _swap_in(stage, force=force)
        done = True
    finally:
        if not done:
            _remove_empty(made)


@contextmanager
def renewed(folder: Path, names: Sequence[str]) -> Iterator[Path]:
    """Yield an empty folder; what it then holds under ``names`` takes the place of the same in ``folder``, in one step.

    A second folder is made beside, with all else linked or copied, and exchanged for the first. Where that would not do
    (the folder is a link, the person works in it, or nothing may be made beside it) files are exchanged inside, one
    after another. Raises WriteError when the disk refuses; then the folder is as it was.
    """
    place = _absolute(folder)
    clear_stale(place / "films")
    beside = not place.is_symlink() and not _works_in(place) and os.access(place.parent, os.W_OK)
    with _staged(place if beside else place / "films") as stage:
        part = _make_beside(stage)
        with _write_errors(place, inside=part):
            new = part if beside else part / "new"
            new.mkdir(exist_ok=True)
            yield new
            if beside:
                _take_over(place, new, {name for name in names if (new / name).exists()})
                _swap_in(stage, force=True)
            else:
                _swap_inside(place, new, part / "old", names)


@contextmanager
def replace_file(path: str | os.PathLike[str], *, force: bool = True) -> Iterator[Path]:
    """Yield a path beside ``path`` to write to; it becomes ``path`` when the block ends without an error.

    Without ``force`` an existing file is left alone. Raises WriteError as new_folder does.
    """
    place = _absolute(path)
    _refuse_taken_file(place, force=force)
    made = _make_parents(place.parent)
    done = False
    try:
        with _staged(place) as stage:
            part = stage.path(f"part{place.suffix[:20]}")
            with _write_errors(place, inside=part):
                os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
                yield part
                _refuse_taken_file(place, force=force)
                part.replace(place)
        done = True
    finally:
        if not done:
            _remove_empty(made)


def check_writable(target: str | os.PathLike[str], *, force: bool) -> None:
    """Find out before the work starts whether new_folder(target) can succeed; leave nothing behind.

    Raises WriteError.
    """
    place = _absolute(target)
    clear_stale(place)
    _refuse_taken(place, force=force)
    made = _make_parents(place.parent)
    try:
        with _staged(place) as stage:
            _make_beside(stage).rmdir()
    finally:
        _remove_empty(made)


def is_print_folder(folder: Path) -> bool:
    """Return True when ``folder`` holds one of MARKERS, a JSON object whose "schema" starts with "sepkit."."""
    for marker in MARKERS:
        file = folder / marker
        if file.is_symlink() or not file.is_file():
            continue
        try:
            content = json.loads(file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        if isinstance(content, dict) and str(content.get("schema", "")).startswith("sepkit."):
            return True
    return False


def _absolute(target: str | os.PathLike[str]) -> Path:
    """Return an absolute path; a link at the place itself stays a link."""
    path = Path(os.path.abspath(target))  # noqa: PTH100 - resolve() would follow a link at the place itself
    if not path.name:
        raise WriteError("the top of a disk cannot be the output folder", where=str(path), hint="name a new folder")
    return path


def _refuse_taken(place: Path, *, force: bool) -> None:
    with _write_errors(place, inside=place):
        if place.is_symlink():
            raise WriteError("is a link to another place", where=str(place), hint="give the real folder")
        if not place.exists():
            return
        if not place.is_dir():
            raise WriteError("is a file, not a folder", where=str(place), hint="give another name with -o")
        if not any(place.iterdir()):
            return
        if not force:
            hint = "--force replaces it, or give another name with -o"
            raise WriteError("already exists", where=str(place), hint=hint)
        if not is_print_folder(place):
            raise WriteError(
                "is not a print folder made here, so it is not replaced",
                where=str(place),
                hint="give another name with -o, or empty the folder yourself",
            )


def _refuse_taken_file(place: Path, *, force: bool) -> None:
    with _write_errors(place, inside=place):
        if place.is_dir() and not place.is_symlink():
            raise WriteError("is a folder, not a file", where=str(place), hint="give a file name")
        if not force and (place.exists() or place.is_symlink()):
            raise WriteError("already exists", where=str(place), hint="--force replaces it, or give another name")


def _make_parents(folder: Path) -> list[Path]:
    """Make missing parents; return those made, innermost first."""
    missing: list[Path] = []
    while not folder.exists() and folder != folder.parent:
        missing.append(folder)
        folder = folder.parent
    made: list[Path] = []
    for step in reversed(missing):
        try:
            step.mkdir(exist_ok=True)
        except OSError as error:
            _remove_empty(made)
            raise _as_write_error(error, step) from error
        made.insert(0, step)
    return made


@contextmanager
def _staged(place: Path) -> Iterator[Stage]:
    """Yield a stage for ``place``; WriteError when there can be none."""
    with ExitStack() as stack:
        try:
            stage = stack.enter_context(staged(place))
        except OSError as error:
            raise _as_write_error(error, place) from error
        yield stage


def _make_beside(stage: Stage) -> Path:
    """Make an empty folder of the stage (plain mkdir: the umask decides the rights)."""
    part = stage.path("part")
    try:
        part.mkdir()
    except OSError as error:
        raise _as_write_error(error, stage.place) from error
    return part


def _swap_in(stage: Stage, *, force: bool) -> None:
    """Move the complete folder into place. Where two runs meet, one wins whole and the other gets a WriteError."""
    part, place = stage.path("part"), stage.place
    _refuse_taken(place, force=force)
    if not place.exists() or not any(place.iterdir()):
        if os.name == "nt" and place.exists():
            place.rmdir()
        _move(part, place)
        return
    if exchange(part, place):  # the old one is now the part, and goes with the stage
        return
    # Should anything stop it between the two, the stage puts the old one back when it ends, or the next run does.
    place.rename(stage.path("old"))
    _move(part, place)


def _works_in(folder: Path) -> bool:
    try:
        return Path.cwd().is_relative_to(folder.resolve())
    except OSError:  # the working folder is gone
        return False


def _take_over(folder: Path, new: Path, made: set[str]) -> None:
    """Link or copy all of ``folder`` into ``new`` but what was ``made`` there."""
    for entry in sorted(folder.iterdir()):
        if entry.name in made:
            continue
        if entry.is_dir() and not entry.is_symlink():
            link_tree(entry, new / entry.name)
        else:
            _link_or_copy(str(entry), str(new / entry.name))
    shutil.copystat(folder, new)


def link_tree(source: Path, target: Path) -> None:
    """Make ``target``, which is not there, of what lies in ``source``: hard links, or copies where there can be none.

    Raises OSError as the system does: the first, with its own number, so that a full disk is known as one.
    """
    target.mkdir()
    for entry in sorted(source.iterdir()):
        if entry.is_dir() and not entry.is_symlink():
            link_tree(entry, target / entry.name)
        else:
            _link_or_copy(str(entry), str(target / entry.name))
    shutil.copystat(source, target)


def _link_or_copy(old: str, new: str) -> None:
    try:
        os.link(old, new, follow_symlinks=False)
    except (OSError, NotImplementedError):  # another disk, or one without links; what hinders both, the copy tells
        shutil.copy2(old, new, follow_symlinks=False)


def _swap_inside(folder: Path, new: Path, old: Path, names: Sequence[str]) -> None:
    """Exchange files one after another; until ``old`` has another name, its stage puts back what lies in it."""
    old.mkdir()
    for name in names:
        if (new / name).exists():
            if (folder / name).exists():
                (folder / name).rename(old / name)
            (new / name).rename(folder / name)
    old.rename(old.with_name("done"))


def _move(part: Path, place: Path) -> None:
    try:
        part.rename(place)
    except OSError as error:
        if error.errno in {errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR}:
            raise WriteError(
                "was written by another run meanwhile", where=str(place), hint="run again, or give another name"
            ) from error
        raise


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


@contextmanager
def _write_errors(place: Path, *, inside: Path) -> Iterator[None]:
    """Turn the system's refusals to write into WriteError; leave other errors as they are."""
    try:
        yield
    except SepkitError:
        raise
    except OSError as error:
        named = str(error.filename or "")
        about_us = not named or named.startswith((str(inside), str(place)))
        if error.errno in _REASONS and about_us:
            raise _as_write_error(error, place) from error
        raise


def _as_write_error(error: OSError, place: Path) -> WriteError:
    text, hint = _REASONS.get(error.errno or 0, (error.strerror or "cannot be written", "write to another folder"))
    return WriteError(text, where=str(place), hint=hint)
