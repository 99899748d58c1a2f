"""A bench process that is told to end while it starts, or for good."""

from __future__ import annotations

import multiprocessing
from types import SimpleNamespace

import pytest

from sepkit.page import compute as computes
from sepkit.page.compute import DIED, STOPPED, Compute, WorkError


class Starting:
    """A process that answers nothing and ends; ``meanwhile`` happens just before it is there."""

    def __init__(self, meanwhile):
        self.meanwhile, self.there, self.killed = meanwhile, False, False

    def start(self):
        self.meanwhile()
        self.there = True

    def kill(self):
        assert self.there  # multiprocessing's own fails too on one that was not started
        self.killed = True

    def is_alive(self):
        return False

    def join(self, _seconds):
        pass


@pytest.fixture
def started(monkeypatch):
    """What happens while a process starts can be put in ``meanwhile``; ``made`` are those that were started."""
    told = SimpleNamespace(meanwhile=lambda: None, made=[])

    def process(**_given):
        told.made.append(Starting(told.meanwhile))
        return told.made[-1]

    context = SimpleNamespace(Pipe=multiprocessing.Pipe, Process=process)
    monkeypatch.setattr(computes.multiprocessing, "get_context", lambda _name: context)
    return told


def trouble(compute):
    with pytest.raises(WorkError) as caught:
        compute.call("state")
    assert compute.working() is None
    return caught.value.trouble


def test_one_that_is_stopped_while_it_starts_is_killed(tmp_path, started):
    compute = Compute(tmp_path)
    assert (trouble(compute), started.made[0].killed) == (DIED, False)
    started.meanwhile = compute.stop
    assert (trouble(compute), started.made[1].killed) == (STOPPED, True)


def test_one_that_is_ended_for_good_starts_no_more(tmp_path, started):
    compute = Compute(tmp_path)
    compute.close()
    assert trouble(compute) == DIED  # closed alone, the next call starts another
    compute.end()
    assert trouble(compute) == STOPPED
    assert len(started.made) == 1


@pytest.mark.parametrize("error", [BlockingIOError("no room"), EOFError("the server of forks is gone")])
def test_a_machine_that_starts_no_more_processes_is_told(tmp_path, started, error):
    def full():
        raise error

    started.meanwhile = full
    assert trouble(Compute(tmp_path)) == DIED


def test_a_machine_that_opens_no_more_pipes_is_told(tmp_path, started, monkeypatch):
    def full():
        raise OSError("too many open files")

    monkeypatch.setattr(computes.multiprocessing.get_context("any"), "Pipe", full)
    assert trouble(Compute(tmp_path)) == DIED
    assert not started.made
