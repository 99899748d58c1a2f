"""Worker processes for long work: one way to start them, so that Ctrl-C and threads behave the same everywhere.

Never a plain fork: it copies the locks of other threads, such as those of linear algebra libraries. Workers leave
Ctrl-C to the parent, which stops them. Work handed to them must be picklable.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any


def workers_for(tasks: int, *, most: int = 2) -> int:
    """Return how many processes to use for ``tasks``: 1 inside a worker, which starts none of its own."""
    if multiprocessing.parent_process() is not None:
        return 1
    return max(1, min(tasks, most, os.cpu_count() or 1))


def ahead(preload: str) -> None:
    """Let workers' parent process load ``preload`` from now on: a pool that begins later finds it loaded.

    Nothing where there is one core, in a worker, or where the system has no such process.
    """
    if workers_for(2) < 2 or "forkserver" not in multiprocessing.get_all_start_methods():
        return
    _forkserver(preload)


@contextmanager
def worker_pool(count: int, *, preload: str) -> Iterator[ProcessPoolExecutor]:
    """Yield a pool of ``count`` processes that have loaded ``preload``; on any error waiting work is dropped."""
    clean = "forkserver" in multiprocessing.get_all_start_methods()
    context: Any = _forkserver(preload) if clean else multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(count, mp_context=context, initializer=_ignore_interrupt) as pool:
        try:
            yield pool
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise


def _forkserver(preload: str) -> Any:
    """Return the context of workers' parent process; it is started here if it does not run.

    Ctrl-C reaches it as well, and while it loads ``preload`` it would end with a traceback: so it is kept from it.
    """
    from multiprocessing import forkserver, resource_tracker

    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([preload])
    resource_tracker.ensure_running()  # which lets signals through again once it has started
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    return context


def _ignore_interrupt() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
