"""What is kept: the same planes give the same result without work; room is bounded; planes in use may not change."""

from __future__ import annotations

import weakref

import numpy as np

from sepkit.coverage.keep import Keep, kept, lasting


def plane(value: int, side: int = 8) -> np.ndarray:
    out = np.full((side, side), value, np.uint8)
    out.setflags(write=False)
    return out


class Counted:
    """Work that counts how often it is done."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self, planes: list[np.ndarray], by: int) -> np.ndarray:
        self.times += 1
        return np.maximum.reduce(planes) + np.uint8(by)


def test_the_same_planes_and_numbers_are_worked_once():
    work, one, other = Counted(), plane(1), plane(2)
    with Keep(1 << 20).used():
        first = kept(work, [one, other], 3)
        assert kept(work, [one, other], 3) is first and work.times == 1
        assert not first.flags.writeable
        assert (kept(work, [one, other], 4) == 6).all() and work.times == 2
        assert (kept(work, [other, plane(1)], 3) == 5).all() and work.times == 3  # equal, but another array


def test_nothing_is_kept_outside_and_of_planes_that_may_change():
    work, one = Counted(), plane(1)
    kept(work, [one], 1), kept(work, [one], 1)
    assert work.times == 2
    open_ = np.ones((4, 4), np.uint8)
    with Keep(1 << 20).used():
        kept(work, [open_], 1)
        open_[...] = 9
        assert (kept(work, [open_], 1) == 10).all()


def test_the_least_lately_used_goes_first_and_large_ones_are_not_kept():
    work, planes = Counted(), [plane(k) for k in range(12)]
    keep = Keep(64 * 8)
    with keep.used():
        for one in planes[:8]:
            kept(work, [one], 0)
        kept(work, [planes[0]], 0)
        assert work.times == 8 and keep.bytes == 64 * 8
        kept(work, [planes[8]], 0)  # takes the room of planes[1]
        kept(work, [planes[0]], 0)
        assert work.times == 9 and keep.bytes == 64 * 8
        kept(work, [planes[1]], 0)
        assert work.times == 10
        kept(work, [plane(1, side=16)], 0)
        assert keep.bytes == 64 * 8 and len(keep.found) == 8


def test_a_lasting_one_counts_what_results_were_made_from_but_once_and_not_what_is_held():
    """Figures are small, and the planes that they were found on are not: both live as long as the figure is kept."""
    keep, planes = Keep(64 * 12, lasting=True), [plane(k) for k in range(20)]
    keep.hold(planes[:1])
    with keep.used():
        for one in planes[:3]:
            kept(_total, one)
            kept(_least, one)
        assert keep.bytes == 64 * 2
        for one in planes:
            kept(_total, one)
        assert keep.bytes <= 64 * 12 and len(keep.found) == 12
        assert lasting()
    keep.bound(64 * 5)
    assert keep.bytes <= 64 * 5 and len(keep.found) == 5
    small = Keep(64 * 12)
    with small.used():
        assert not lasting()
        kept(_total, planes[1])
    assert small.bytes == 0


def test_results_go_with_the_planes_that_they_were_made_from_unless_it_lasts():
    for lasts in (False, True):
        keep, calls = Keep(lasting=lasts), []

        def work(one: np.ndarray, calls: list[int] = calls) -> int:
            calls.append(1)
            return int(one.sum())

        with keep.used():
            first = plane(1)
            gone = weakref.ref(first)
            assert kept(work, first) == kept(work, first) and len(calls) == 1
            del first
            assert (gone() is None) is not lasts
            for k in range(30):  # some of these have the id of one before them
                other = plane(k)
                assert kept(work, other) == int(other.sum())
            assert len(keep.found) == (31 if lasts else 1)


def _total(one: np.ndarray) -> int:
    return int(one.sum())


def _least(one: np.ndarray) -> int:
    return int(one.min())


def test_threads_have_their_own():
    from concurrent.futures import ThreadPoolExecutor

    work, one = Counted(), plane(1)
    with Keep(1 << 20).used(), ThreadPoolExecutor(1) as pool:
        kept(work, [one], 0)
        pool.submit(kept, work, [one], 0).result()
    assert work.times == 2
