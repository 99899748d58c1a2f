"""Files that are begun while a print is still planned, and what becomes of them when that fails."""

from __future__ import annotations

import signal
import threading
import time

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import ArtworkError
from sepkit.workshop.print import begun, plan
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.write import make_prints


def box_in(folder):
    art = np.zeros((60, 60, 4), np.uint8)
    art[10:50, 10:50] = (200, 40, 40, 255)
    path = folder / "box.png"
    Image.fromarray(art).save(path)
    return [PrintOptions(path, "#f4f4f2", width_mm=60)]


def stepping(told, first):
    """Return films that take ten seconds; they tell what was there when they ended, and whether that was early."""

    def films(folder, _filmed, *, planes, progress):
        del planes
        first()
        step = 0
        try:
            for step in range(1000):
                progress.step("films", step, 1000)
                time.sleep(0.01)
        finally:
            told.append((sorted(one.name for one in folder.iterdir()), step < 999))

    return films


def test_a_print_that_fails_once_its_files_are_begun_ends_them_and_leaves_nothing(tmp_path, monkeypatch):
    told, at_work = [], threading.Event()

    def fails(*_given):
        at_work.wait(5)
        raise ArtworkError("no", where="box.png", hint="none")

    monkeypatch.setattr(begun, "write_films", stepping(told, at_work.set))
    monkeypatch.setattr(plan, "plan_findings", fails)
    with pytest.raises(ArtworkError):
        make_prints(box_in(tmp_path), tmp_path / "made" / "box", force=False)
    assert told == [(["plates"], True)]
    assert [one.name for one in tmp_path.iterdir()] == ["box.png"]


def test_ctrl_c_while_only_films_are_waited_for_ends_the_print(tmp_path, monkeypatch):
    told = []

    def interrupt():
        ends = time.monotonic() + 60  # where the sheet never comes, the test fails and does not hang
        while not list(tmp_path.glob(".box.*/sheet.html")) and time.monotonic() < ends:
            time.sleep(0.01)
        time.sleep(0.1)
        signal.pthread_kill(threading.main_thread().ident, signal.SIGINT)

    monkeypatch.setattr(begun, "write_films", stepping(told, interrupt))
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # a run in the background ignores it
    try:
        with pytest.raises(KeyboardInterrupt):
            make_prints(box_in(tmp_path), tmp_path / "box", force=False)
    finally:
        signal.signal(signal.SIGINT, before)
    ((there, early),) = told
    assert "sheet.html" in there
    assert early
    assert [one.name for one in tmp_path.iterdir()] == ["box.png"]


def test_a_second_ctrl_c_leaves_nobody_writing(monkeypatch):
    at_work, waits = begun.start(lambda: time.sleep(0.1)), []

    def interrupted(futures):
        waits.append(futures)
        if len(waits) == 1:
            raise KeyboardInterrupt
        return real(futures)

    real = begun.wait
    monkeypatch.setattr(begun, "wait", interrupted)
    begun.Begun(begun.Future(), at_work, threading.Event()).drop()
    assert at_work.done()
    assert len(waits) == 2
