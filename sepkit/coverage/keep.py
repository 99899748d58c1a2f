"""Results of work on planes that are kept, so that deciding again makes only what changed; bounded in bytes.

``kept(work, ...)`` calls a pure function, or returns what it gave before for the same planes and numbers, while a Keep
is in use here, or was where this thread was started; without one it just calls. A plane is known again by being the
same array that nobody can write to, so nothing is hashed: results are made read-only, and those of one step are the
known planes of the next.
"""

from __future__ import annotations

import contextvars
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, ParamSpec, TypeVar

import numpy as np

P = ParamSpec("P")
T = TypeVar("T")

SMALL_BYTES = 32 << 20
"""Enough for figures and reduced planes of one print; whole planes of large art are not kept."""
LEAST_KEPT = 4
"""Results of one size that must have room together."""


SESSION_BYTES = 400 << 20
"""For a person who changes one print again and again: its planes and a few wishes back, at 28.8 million pixels."""


@dataclass(slots=True)
class Keep:
    """What was worked out, the least lately used dropped first."""

    most_bytes: int = SMALL_BYTES
    """Results together take no more."""
    bytes: int = 0
    found: OrderedDict[Hashable, tuple[Any, int, tuple[Any, ...]]] = field(default_factory=OrderedDict)
    """By work and what it was given: the result, its size, and the arrays that it was made from."""
    lock: threading.Lock = field(default_factory=threading.Lock)

    def __reduce__(self) -> tuple[type[Keep], tuple[int]]:
        """Go to another process without what is kept: its planes are other arrays there."""
        return Keep, (self.most_bytes,)

    @contextmanager
    def used(self) -> Iterator[Keep]:
        """Use it while the block runs, in threads that it starts (``sepkit.threads``) too."""
        before = _in_use.set(self)
        try:
            yield self
        finally:
            _in_use.reset(before)

    def of(self, key: Hashable, given: tuple[Any, ...], make: Callable[[], T], *, bytes_more: int = 0) -> T:
        """Return what is kept under ``key``, else make and keep it; ``bytes_more`` is what hides inside the result."""
        with self.lock:
            if key in self.found:
                self.found.move_to_end(key)
                known: T = self.found[key][0]
                return known
        result = make()
        size = _settled(result) + bytes_more
        if size * LEAST_KEPT <= self.most_bytes:  # one that leaves no room for the next is of no use
            with self.lock:
                self.found[key] = (result, size, given)
                self.bytes += size
                while self.bytes > self.most_bytes:
                    _, (_, gone, _) = self.found.popitem(last=False)
                    self.bytes -= gone
        return result


def kept(work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
    """Return ``work(*given, **named)``, kept where a Keep is in use and all arrays given are read-only."""
    keep = _in_use.get()
    if keep is None:
        return work(*given, **named)
    arrays: list[Any] = []
    known = (_known(given, arrays), tuple((name, _known(value, arrays)) for name, value in sorted(named.items())))
    if any(array.flags.writeable for array in arrays):
        return work(*given, **named)
    return keep.of((work, known), tuple(arrays), lambda: work(*given, **named))


def kept_as(key: Hashable, arrays: Sequence[np.ndarray[Any, Any]], make: Callable[[], T], *, bytes_more: int = 0) -> T:
    """Return ``make()``, kept where a Keep is in use and all arrays that it is made from are read-only.

    ``key`` is all else that it is made from; ``bytes_more`` is what hides inside the result.
    """
    keep = _in_use.get()
    if keep is None or any(array.flags.writeable for array in arrays):
        return make()
    known = (key, tuple(id(array) for array in arrays))
    return keep.of(known, tuple(arrays), make, bytes_more=bytes_more)


_in_use: contextvars.ContextVar[Keep | None] = contextvars.ContextVar("keep", default=None)


def _known(value: Any, arrays: list[Any]) -> Hashable:
    """Return what a value is known by; arrays by themselves, which are added to ``arrays``."""
    if isinstance(value, np.ndarray):
        arrays.append(value)
        return id(value)
    if isinstance(value, (tuple, list)):
        return tuple(_known(one, arrays) for one in value)
    hashable: Hashable = value
    return hashable


def _settled(result: Any) -> int:
    """Make the arrays of a result read-only; return their bytes."""
    if isinstance(result, np.ndarray):
        result.setflags(write=False)
        return result.nbytes
    return sum(_settled(one) for one in result) if isinstance(result, tuple) else 0
