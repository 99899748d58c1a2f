from __future__ import annotations

import contextlib
import errno
import json
import os
import signal
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest

from sepkit.errors import UsageError, WriteError
from sepkit.files.folders.write import check_writable, is_print_folder, link_tree, new_folder, renewed, replace_file

SEPARATION = json.dumps({"schema": "sepkit.separation/1"})


def fill(folder, text="new"):
    (folder / "separation.json").write_text(SEPARATION)
    (folder / "plates").mkdir()
    (folder / "plates" / "01.png").write_text(text)


def make(target, text="old"):
    target.mkdir()
    fill(target, text)
    return target


def contents(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def refusal(block):
    with pytest.raises(WriteError) as caught:
        block()
    assert caught.value.exit_code == 7
    assert "\n" not in str(caught.value)
    return str(caught.value)


def write(target, *, force=False, body=fill):
    with new_folder(target, force=force) as part:
        body(part)


def test_a_new_folder_appears_whole(tmp_path):
    target = tmp_path / "deep" / "out"
    with new_folder(target, force=False) as part:
        fill(part)
        assert part.parent == target.parent  # same disk, so that the move is one step
        assert not target.exists()
    assert contents(tmp_path / "deep") == ["out", "out/plates", "out/plates/01.png", "out/separation.json"]
    plain = tmp_path / "plain"
    plain.mkdir()
    assert target.stat().st_mode == plain.stat().st_mode


@pytest.mark.parametrize("error", [RuntimeError("x"), KeyboardInterrupt(), SystemExit(3), UsageError("y")])
@pytest.mark.parametrize("old", [False, True])
def test_nothing_is_left_after_a_failure(tmp_path, error, old):
    target = tmp_path / "a" / "out"
    if old:
        target.parent.mkdir()
        make(target)

    def fail(part):
        fill(part)
        raise error

    with pytest.raises(type(error)):
        write(target, force=True, body=fail)
    if old:
        assert contents(target.parent) == ["out", "out/plates", "out/plates/01.png", "out/separation.json"]
        assert (target / "plates" / "01.png").read_text() == "old"
    else:
        assert contents(tmp_path) == []


def test_an_old_folder_stays_without_force(tmp_path):
    target = make(tmp_path / "out")
    line = refusal(lambda: write(target))
    assert line == f"{target}: already exists (--force replaces it, or give another name with -o)"
    assert (target / "plates" / "01.png").read_text() == "old"


def test_force_replaces_a_print_folder_whole(tmp_path):
    target = make(tmp_path / "out")
    (target / "extra.txt").write_text("of the old run")
    write(target, force=True)
    assert contents(tmp_path) == ["out", "out/plates", "out/plates/01.png", "out/separation.json"]
    assert (target / "plates" / "01.png").read_text() == "new"


def test_force_never_replaces_what_is_not_ours(tmp_path):
    target = tmp_path / "photos"
    target.mkdir()
    (target / "a.jpg").write_text("precious")
    for marker in (None, "{}", "[1]", "no json", '{"schema": "other/1"}'):
        if marker is not None:
            (target / "separation.json").write_text(marker)
        assert "is not a print folder" in refusal(lambda: write(target, force=True))
    assert (target / "a.jpg").read_text() == "precious"
    elsewhere = make(tmp_path / "elsewhere")
    (target / "separation.json").unlink()
    (target / "separation.json").symlink_to(elsewhere / "separation.json")
    assert not is_print_folder(target)


@pytest.mark.parametrize("name", ["separation.json", "prints.json", "job.json"])
def test_folders_of_prints_and_jobs_are_ours(tmp_path, name):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / name).write_text('{"schema": "sepkit.any/1"}')
    write(tmp_path / "out", force=True)
    assert (tmp_path / "out" / "plates" / "01.png").read_text() == "new"


def test_an_empty_folder_is_taken_over(tmp_path):
    (tmp_path / "out").mkdir()
    write(tmp_path / "out")
    assert (tmp_path / "out" / "separation.json").exists()


def test_files_and_links_are_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    assert "is a file, not a folder" in refusal(lambda: write(tmp_path / "file", force=True))
    real = make(tmp_path / "real")
    (tmp_path / "link").symlink_to(real)
    assert "is a link" in refusal(lambda: write(tmp_path / "link", force=True))
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    assert "is a link" in refusal(lambda: write(tmp_path / "dangling", force=True))
    assert (real / "plates" / "01.png").read_text() == "old"
    assert "a part of this path is a file" in refusal(lambda: write(tmp_path / "file" / "out"))
    assert "top of a disk" in refusal(lambda: write("/"))


def failing(monkeypatch, name, code, *, matching=""):
    """Make a call of Path fail as the system would; chmod cannot show this to an administrator."""
    real = getattr(Path, name)

    def refuse(self, *args, **kwargs):
        if matching in self.name:
            raise OSError(code, os.strerror(code), str(self))
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, name, refuse)


@pytest.mark.parametrize(
    ("code", "text"), [(errno.EACCES, "no permission"), (errno.EROFS, "read-only"), (errno.ENOSPC, "disk is full")]
)
def test_a_place_that_cannot_be_written(tmp_path, monkeypatch, code, text):
    failing(monkeypatch, "mkdir", code)
    assert text in refusal(lambda: write(tmp_path / "out"))
    assert text in refusal(lambda: write(tmp_path / "new" / "out"))
    assert text in refusal(lambda: check_writable(tmp_path / "out", force=False))
    assert contents(tmp_path) == []


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_a_disk_that_fills_up_meanwhile(tmp_path, code):
    target = make(tmp_path / "out")

    def fail(part):
        fill(part)
        raise OSError(code, os.strerror(code))

    line = refusal(lambda: write(target, force=True, body=fail))
    assert line.startswith(f"{target}: the disk")
    assert contents(tmp_path) == ["out", "out/plates", "out/plates/01.png", "out/separation.json"]


def test_a_tree_is_linked_or_copied_and_a_full_disk_in_it_is_known_as_one(tmp_path, monkeypatch):
    source = make(tmp_path / "old")
    link_tree(source, tmp_path / "linked")
    assert (tmp_path / "linked/plates/01.png").stat().st_ino == (source / "plates/01.png").stat().st_ino

    def refused(*_words, **_more):
        raise OSError(errno.EXDEV, "another disk")

    monkeypatch.setattr(os, "link", refused)
    link_tree(source, tmp_path / "copied")
    assert (tmp_path / "copied/plates/01.png").read_bytes() == (source / "plates/01.png").read_bytes()

    def full(*_words, **_more):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("shutil.copy2", full)
    with pytest.raises(OSError, match="space") as told:
        link_tree(source, tmp_path / "half")
    assert told.value.errno == errno.ENOSPC


def test_a_really_full_device():
    """/dev/full refuses each write as a full disk does."""
    if not Path("/dev/full").exists():
        return

    def fail(part):
        (part / "films").symlink_to("/dev/full")
        with (part / "films").open("wb", buffering=0) as stream:
            stream.write(b"x")

    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        assert "the disk is full" in refusal(lambda: write(Path(folder) / "out", body=fail))
        assert list(Path(folder).iterdir()) == []


def test_errors_about_other_files_stay_what_they_are(tmp_path):
    def fail(part):
        raise PermissionError(errno.EACCES, "Permission denied", "/somewhere/art.png")

    with pytest.raises(PermissionError):
        write(tmp_path / "out", body=fail)


@pytest.mark.parametrize("error", [OSError(errno.EIO, "bad"), KeyboardInterrupt()])
def test_a_failed_swap_puts_the_old_folder_back(tmp_path, monkeypatch, error):
    target = make(tmp_path / "out")
    real = Path.rename
    monkeypatch.setattr("sepkit.files.folders.write.exchange", lambda _one, _other: False)

    def rename(self, new):
        if self.name.endswith(".part"):
            raise error
        return real(self, new)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises((WriteError, KeyboardInterrupt)):
        write(target, force=True)
    assert contents(tmp_path) == ["out", "out/plates", "out/plates/01.png", "out/separation.json"]
    assert (target / "plates" / "01.png").read_text() == "old"


@pytest.mark.parametrize("force", [False, True])
def test_two_runs_into_one_folder(tmp_path, force):
    """Both write at once; what stands in the end is one of them, whole, and a loser is told."""
    target = tmp_path / "out"
    barrier = threading.Barrier(2)
    outcomes = []

    def run(text):
        def body(part):
            fill(part, text)
            barrier.wait()

        try:
            write(target, force=force, body=body)
            outcomes.append("done")
        except WriteError as error:
            outcomes.append(str(error))

    threads = [threading.Thread(target=run, args=(text,)) for text in ("one", "two")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert "done" in outcomes
    if not force:
        assert sum(outcome != "done" for outcome in outcomes) == 1
    assert contents(tmp_path) == ["out", "out/plates", "out/plates/01.png", "out/separation.json"]
    assert (target / "plates" / "01.png").read_text() in {"one", "two"}


def test_ctrl_c_leaves_nothing(tmp_path):
    script = textwrap.dedent("""
        import signal, sys, time
        from sepkit.files.folders.write import new_folder
        signal.signal(signal.SIGINT, signal.default_int_handler)  # a run in the background inherits "ignore"
        with new_folder(sys.argv[1], force=False) as part:
            (part / "a").write_text("half")
            print("ready", flush=True)
            time.sleep(60)
    """)
    root = Path(__file__).resolve().parents[3]
    run = subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path / "x" / "out")],
        cwd=root,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    with run:
        assert run.stdout.readline() == "ready\n"
        run.send_signal(signal.SIGINT)
        run.wait(20)
    assert contents(tmp_path) == []


def test_check_writable_leaves_nothing(tmp_path):
    check_writable(tmp_path / "a" / "b" / "out", force=False)
    assert contents(tmp_path) == []
    target = make(tmp_path / "out")
    assert "already exists" in refusal(lambda: check_writable(target, force=False))
    check_writable(target, force=True)
    assert (target / "plates" / "01.png").read_text() == "old"


def test_one_file_is_replaced_whole(tmp_path):
    path = tmp_path / "sheet.html"
    path.write_text("old")
    with replace_file(path) as part:
        part.write_text("new")
        assert part.suffix == ".html"
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    with pytest.raises(RuntimeError), replace_file(path) as part:
        part.write_text("half")
        raise RuntimeError
    assert path.read_text() == "new"
    assert contents(tmp_path) == ["sheet.html"]


def one_file(path, *, force):
    with replace_file(path, force=force) as part:
        part.write_text("x")


def test_one_file_refusals(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    assert "already exists (--force" in refusal(lambda: one_file(tmp_path / "a.txt", force=False))
    (tmp_path / "d").mkdir()
    assert "is a folder" in refusal(lambda: one_file(tmp_path / "d", force=True))
    (tmp_path / "link.txt").symlink_to(tmp_path / "a.txt")
    one_file(tmp_path / "link.txt", force=True)
    assert (tmp_path / "a.txt").read_text() == "old"  # the link is replaced, not what it points to
    assert (tmp_path / "link.txt").read_text() == "x"
    line = refusal(lambda: one_file(tmp_path / ("n" * 300), force=True))
    assert "too long" in line


KILLED = """
import os, signal, sys
from pathlib import Path
from sepkit.files.folders import write
place, how = Path(sys.argv[1]), sys.argv[2]
def stop(*_):
    os.kill(os.getpid(), signal.SIGKILL)
if how == "moved aside":
    write.exchange = lambda *_: False
    write._move = stop
if how == "file":
    with write.replace_file(place / "separation.json") as part:
        part.write_text("half")
        stop()
if how == "inside":
    os.chdir(place)
    real = Path.rename
    Path.rename = lambda self, new: stop() if self.name == "separation.json" else real(self, new)
    with write.renewed(place, ("plates", "separation.json")) as new:
        (new / "plates").mkdir()
        (new / "separation.json").write_text("{}")
with write.new_folder(place, force=True) as part:
    (part / "separation.json").write_text('{"schema": "sepkit.separation/1"}')
    if how == "half":
        stop()
"""
WHOLE = ["out", "out/plates", "out/plates/01.png", "out/separation.json"]


@pytest.mark.parametrize("how", ["half", "moved aside", "file", "inside"])
def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path, how):
    target = make(tmp_path / "out")
    root = Path(__file__).resolve().parents[3]
    run = subprocess.run([sys.executable, "-c", KILLED, str(target), how], cwd=root, check=False)
    assert run.returncode == -signal.SIGKILL
    assert any(path.name.endswith(".lock") for path in tmp_path.rglob(".*"))
    if how in ("half", "file"):
        assert (target / "plates" / "01.png").read_text() == "old"
        assert is_print_folder(target)
    check_writable(target, force=True)
    with replace_file(target / "separation.json") as part:
        part.write_text(SEPARATION)
    with renewed(target, ()):
        pass
    assert contents(tmp_path) == WHOLE
    assert (target / "plates" / "01.png").read_text() == "old"


@contextlib.contextmanager
def in_folder(folder):
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def test_what_a_living_run_has_beside_is_left_alone(tmp_path):
    target = make(tmp_path / "out")
    with new_folder(target, force=True) as first:
        fill(first, "first")
        with new_folder(target, force=True) as second:
            fill(second, "second")
        assert contents(first) == ["plates", "plates/01.png", "separation.json"]
        assert (target / "plates" / "01.png").read_text() == "second"
    assert contents(tmp_path) == WHOLE
    assert (target / "plates" / "01.png").read_text() == "first"


@pytest.mark.parametrize("inside", [False, True])
def test_a_part_of_a_folder_is_renewed(tmp_path, inside):
    target = make(tmp_path / "out")
    (target / "note.txt").write_text("mine")
    with in_folder(target if inside else tmp_path):
        with pytest.raises(RuntimeError), renewed(target, ("plates",)) as new:
            (new / "plates").mkdir()
            raise RuntimeError
        assert (target / "plates" / "01.png").read_text() == "old"
        with renewed(target, ("plates", "sheet.html")) as new:
            (new / "plates").mkdir()
            (new / "plates" / "02.png").write_text("new")
    assert contents(tmp_path) == ["out", "out/note.txt", "out/plates", "out/plates/02.png", "out/separation.json"]
    assert (target / "note.txt").read_text() == "mine"
