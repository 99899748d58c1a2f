from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys

import pytest

from sepkit.errors import ArtworkError
from sepkit.processes import worker_pool, workers_for


def _told(_: int) -> tuple[int, bool, int]:
    return os.getpid(), signal.getsignal(signal.SIGINT) is signal.SIG_IGN, workers_for(5)


def _fails(where: str) -> None:
    raise ArtworkError("no art", where=where, hint="draw some")


def test_workers_are_other_processes_that_leave_interrupts_to_the_parent_and_start_none() -> None:
    with worker_pool(1, preload="sepkit.units") as pool:
        pid, ignores, inside = pool.submit(_told, 0).result()
    assert pid != os.getpid()
    assert ignores
    assert inside == 1


def _loaded(module: str) -> bool:
    return module in sys.modules


def test_what_is_loaded_ahead_is_there_when_a_pool_begins() -> None:
    """In a process of its own: workers' parent starts once, and others of these tests have started it."""
    words = (
        "import sys; from sepkit.processes import ahead, worker_pool\n"
        "from tests.test_processes import _loaded\n"
        "if __name__ == '__main__':\n"
        "    ahead('wave')\n"
        "    with worker_pool(1, preload='sepkit.units') as pool:\n"
        "        print(pool.submit(_loaded, 'wave').result())\n"
    )
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", words], capture_output=True, text=True, check=True)
    has = "forkserver" in multiprocessing.get_all_start_methods() and (os.cpu_count() or 1) > 1
    assert done.stdout.strip() == str(has)


def test_an_error_in_a_worker_keeps_its_words_and_code() -> None:
    with pytest.raises(ArtworkError) as error, worker_pool(1, preload="sepkit.units") as pool:
        pool.submit(_fails, "kite.png").result()
    assert str(error.value) == "kite.png: no art (draw some)"
    assert error.value.exit_code == 4


def test_no_more_workers_than_tasks_or_asked() -> None:
    assert workers_for(1) == 1
    assert workers_for(9, most=1) == 1
    assert workers_for(9, most=2) == min(2, os.cpu_count() or 1)
