"""Results of work on planes that are kept, so that deciding again makes only what changed; bounded in bytes.

``kept(work, ...)`` calls a pure function, or returns what it gave before for the same planes and numbers, while a Keep
is in use here, or was where this thread was started; without one it just calls. A plane is known again by being the
same array that nobody can write to, so nothing is hashed: results are made read-only, and those of one step are the
known planes of the next.
"""

from __future__ import annotations

import contextvars
import threading
import weakref
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
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
"""For a person who changes one print again and again: its planes and a few wishes back."""
SESSION_BYTES_A_PIXEL = 30
"""Of large art: with less room than one plan takes (about 20 planes), each change pushes out what the next needs."""
MOST_PIXELS = 40_000_000
"""Of the largest art that a session holds whole."""


def session_bytes(pixels: int = MOST_PIXELS) -> int:
    """Return the room of a session's Keep for art of so many pixels."""
    return max(SESSION_BYTES, SESSION_BYTES_A_PIXEL * pixels)


@dataclass(slots=True)
class Keep:
    """What was worked out, the least lately used dropped first."""

    most_bytes: int = SMALL_BYTES
    """Results together take no more."""
    lasting: bool = False
    """Whether it outlives the plans that it serves: what results were made from then lives as long as they do, and is
    counted with them, but for what is ``held``. Else results go when a plane goes that they were made from."""
    bytes: int = 0
    found: OrderedDict[Hashable, tuple[Any, int, tuple[Any, ...]]] = field(default_factory=OrderedDict)
    """By work and what it was given: the result, what hides inside it, and the arrays that it was made from, or weak
    references to them."""
    gone: deque[Hashable] = field(default_factory=deque)
    """Results whose planes are gone: another array may have the id by which they were known."""
    lock: threading.Lock = field(default_factory=threading.Lock)
    held: dict[int, Any] = field(default_factory=dict)
    """Arrays that live as long as it does, whatever is kept, by their ids."""
    counted: dict[int, int] = field(default_factory=dict)
    """How many results need an array, by its id."""

    def __reduce__(self) -> tuple[type[Keep], tuple[int, bool]]:
        """Go to another process without what is kept: its planes are other arrays there."""
        return Keep, (self.most_bytes, self.lasting)

    @contextmanager
    def used(self) -> Iterator[Keep]:
        """Use it while the block runs, in threads that it starts (``sepkit.threads``) too."""
        before = _in_use.set(self)
        try:
            yield self
        finally:
            _in_use.reset(before)

    def hold(self, arrays: Iterable[Any]) -> None:
        """Take note of arrays that live as long as this does: they are not counted from now on."""
        with self.lock:
            for array in arrays:
                self.held[id(array)] = array
                if self.counted.pop(id(array), 0):
                    self.bytes -= array.nbytes

    def bound(self, most_bytes: int) -> None:
        """Take no more than so many bytes from now on."""
        with self.lock:
            self.most_bytes = most_bytes
            self._trim()

    def of(self, key: Hashable, given: tuple[Any, ...], make: Callable[[], T], *, bytes_more: int = 0) -> T:
        """Return what is kept under ``key``, else make and keep it; ``bytes_more`` is what hides inside the result."""
        with self.lock:
            self._forget()
            if key in self.found:
                self.found.move_to_end(key)
                known: T = self.found[key][0]
                return known
        result = make()
        arrays = _settled(result)
        size = sum(array.nbytes for array in arrays) + bytes_more
        if size * LEAST_KEPT <= self.most_bytes:  # one that leaves no room for the next is of no use
            with self.lock:
                if key in self.found:  # another thread was quicker
                    self._drop(key)
                stay = given if self.lasting else self._watched(key, given)
                self.found[key] = (result, bytes_more, stay)
                self.bytes += bytes_more
                self._count([*arrays, *(given if self.lasting else ())], 1)
                self._trim()
        return result

    def _watched(self, key: Hashable, given: tuple[Any, ...]) -> tuple[Any, ...]:
        """Return weak references to what a result was made from; the first that goes takes it along."""
        return tuple(weakref.ref(one, lambda _: self.gone.append(key)) for one in given)

    def _forget(self) -> None:
        while self.gone:
            key = self.gone.popleft()
            if key in self.found:
                self._drop(key)

    def _trim(self) -> None:
        while self.bytes > self.most_bytes:
            self._drop(next(iter(self.found)))

    def _drop(self, key: Hashable) -> None:
        result, more, given = self.found.pop(key)
        self.bytes -= more
        self._count([*_arrays(result), *(given if self.lasting else ())], -1)

    def _count(self, arrays: Sequence[Any], by: int) -> None:
        """Count arrays in or out; each counts once, however many results need it."""
        for array in arrays:
            if id(array) in self.held:
                continue
            before = self.counted.get(id(array), 0)
            after = before + by
            if after > 0:
                self.counted[id(array)] = after
            else:
                self.counted.pop(id(array), None)
            self.bytes += array.nbytes * ((after > 0) - (before > 0))


def lasting() -> bool:
    """Tell whether a Keep is in use that outlives the plans that it serves."""
    keep = _in_use.get()
    return keep is not None and keep.lasting


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


def _settled(result: Any) -> list[Any]:
    """Make the arrays of a result read-only; return them."""
    arrays = _arrays(result)
    for array in arrays:
        array.setflags(write=False)
    return arrays


def _arrays(result: Any) -> list[Any]:
    if isinstance(result, np.ndarray):
        return [result]
    return [array for one in result for array in _arrays(one)] if isinstance(result, tuple) else []
