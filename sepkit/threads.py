"""Work on two cores in one process: NumPy, zlib and Pillow let go of the interpreter while they work on much at once.

Threads share the planes that they read, so memory does not grow with them, as it does with processes. What is done in
a thread that was started here is done one after another: there are no more threads than cores.
"""

from __future__ import annotations

import contextvars
import multiprocessing
import os
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from typing import TypeVar

from sepkit.memory import share_one_heap

T = TypeVar("T")
R = TypeVar("R")

MOST = 2
"""More threads than this share one interpreter badly: between two calls of NumPy each waits for the others."""


WORTH_PX = 1 << 20
"""Planes smaller than this are done before a second thread helps."""


def each(work: Callable[[T], R], items: Iterable[T], *, px: int = WORTH_PX) -> list[R]:
    """Return ``work(item)`` of each item, in order, several at once where there are cores; the caller works too.

    ``px`` is the size of the planes that are worked on: with small ones the caller works alone. Items are drawn one by
    one. The first exception is raised after work that has begun has ended.

    >>> each(lambda x: x * x, range(4))
    [0, 1, 4, 9]
    """
    helpers = _cores() - 1
    if helpers < 1 or px < WORTH_PX or _is_beside.get():
        return [work(item) for item in items]
    source, out, lock, failed = enumerate(items), {}, threading.Lock(), threading.Event()

    def drain() -> None:
        while not failed.is_set():
            with lock:
                number, item = next(source, (-1, None))
            if number < 0:
                return
            try:
                out[number] = work(item)  # type: ignore[arg-type]
            except BaseException:
                failed.set()
                raise

    beside = [start(drain) for _ in range(helpers)]
    token = _is_beside.set(True)
    try:
        drain()
    finally:
        _is_beside.reset(token)
        errors = [one.exception() for one in beside]
    for error in errors:
        if error is not None:
            raise error
    return [out[number] for number in range(len(out))]


def start(work: Callable[[], R]) -> Future[R]:
    """Begin ``work`` in a thread of its own, with what is in use here; its result is waited for by ``result()``."""
    share_one_heap()
    future: Future[R] = Future()
    here = contextvars.copy_context()

    def run() -> None:
        _is_beside.set(True)
        try:
            future.set_result(work())
        except BaseException as error:
            future.set_exception(error)

    threading.Thread(target=here.run, args=(run,), daemon=True).start()
    return future


def _cores() -> int:
    """Return how many threads may work; 1 in a worker process, which has a core for itself."""
    return 1 if multiprocessing.parent_process() is not None else min(MOST, os.cpu_count() or 1)


_is_beside: contextvars.ContextVar[bool] = contextvars.ContextVar("is_beside", default=False)
