"""Work in threads: results in order, what is in use stays in use, errors come through, no threads within threads."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from sepkit.coverage.keep import Keep, kept
from sepkit.threads import each, start


def test_results_come_in_order_whoever_was_first():
    first = threading.Event()

    def work(number: int) -> int:
        if number:
            first.set()
        else:
            first.wait(0.2)
        return number * number

    assert each(work, iter(range(7))) == [0, 1, 4, 9, 16, 25, 36]
    assert each(work, []) == []


def test_an_error_ends_the_work():
    begun = []

    def work(number: int) -> None:
        begun.append(number)
        if number == 2:
            raise ValueError("two")

    with pytest.raises(ValueError, match="two"):
        each(work, range(10_000))
    assert len(begun) < 10_000


def test_what_is_kept_is_kept_in_threads_too():
    plane = np.zeros((4, 4), np.uint8)
    plane.setflags(write=False)
    calls = []

    def sum_of(given: np.ndarray) -> int:
        calls.append(1)
        return int(given.sum())

    with Keep().used():
        assert start(lambda: kept(sum_of, plane)).result() == kept(sum_of, plane) == 0
    assert len(calls) == 1


def test_no_threads_within_threads():
    def inner(_: int) -> int:
        return threading.get_ident()

    assert len(set(start(lambda: each(inner, range(50))).result())) == 1
