"""What the C library is told about the memory of large planes, where it is glibc; elsewhere nothing is done."""

from __future__ import annotations

import ctypes
import sys
from contextlib import suppress
from functools import cache

M_ARENA_MAX = -8
"""How glibc's malloc.h names the most heaps of a process."""


@cache
def share_one_heap() -> None:
    """Have threads share a heap: of its own, each keeps the planes that it gave back.

    A fifth of the memory of a large print lay idle there; with one heap it takes as long.
    """
    if sys.platform == "linux":
        with suppress(AttributeError, OSError):
            ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)


def give_back() -> None:
    """Give the system what is free in the heap, holes among it: after work whose planes were many more than stay."""
    if sys.platform == "linux":
        with suppress(AttributeError, OSError):
            ctypes.CDLL(None).malloc_trim(0)
