"""How many screens a tonal picture is worth: what is seen of its error against minutes at the press.

In: the best set for each number of screens. Out: the one that is printed. The price of an hour is that of all choices.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.plates.choices import CHANGE_MIN_PER_PIECE, DE00_PER_HOUR
from sepkit.press.minutes import COOL_S, FILM_MIN, FLASH_LEAST_S, LOAD_S, PULL_S, SCREEN_MIN, UNLOAD_S, USUAL_RUN
from sepkit.press.runs import MOUNT_MIN

if TYPE_CHECKING:
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.choose import ScreenSet

MOST_AUTO = 5
"""No more screens than these by default, the base among them."""
NEAR_BEST = 1.4
"""A set is enough from this multiple of the loss of the best on."""
NEAR_DE00 = 1.0
"""So near, no screen more is asked for."""


def chosen_set(tried: Sequence[ScreenSet], bench: Bench) -> ScreenSet:
    """Return the set that is printed. Raises UsageError when the wishes leave none."""
    wishes = bench.wishes
    fits = [one for one in tried if wishes.most_screens is None or len(one.places) <= wishes.most_screens]
    if wishes.base.every == "always":
        fits = [one for one in fits if one.has_base] or fits
    if wishes.inks.count is not None:
        fits = [one for one in fits if inks_in(one) <= wishes.inks.count]
    if not fits:
        raise UsageError(
            "no set of screens is as few as that", where="--screens", hint="name fewer inks, or allow more"
        )
    best = min(fits, key=lambda one: one.loss)
    flash_s = bench.measured.get("flash_s", FLASH_LEAST_S)
    if wishes.all_inks or wishes.inks.count is not None:
        return best
    if wishes.inks.named:
        return min(fits, key=lambda one: price_de00(one, bench.press.heads, flash_s))
    few = [one for one in fits if len(one.places) <= MOST_AUTO] or fits
    chosen = min(few, key=lambda one: price_de00(one, bench.press.heads, flash_s))
    if chosen.loss > max(NEAR_BEST * best.loss, best.loss + NEAR_DE00):
        near = [one for one in few if one.loss <= max(NEAR_BEST * best.loss, best.loss + NEAR_DE00)]
        chosen = min(near, key=lambda one: len(one.places)) if near else min(few, key=lambda one: one.loss)
    return chosen


def inks_in(one: ScreenSet) -> int:
    """Return how many inks a set has: a base is none, unless it is all there is."""
    return max(1, sum(place.role != "base" for place in one.places))


def price_de00(one: ScreenSet, heads: int, flash_s: float = FLASH_LEAST_S) -> float:
    """Return what is lost and what the press takes, in one number: less is better."""
    return one.loss + DE00_PER_HOUR * run_min(one, heads, flash_s) / 60


def run_min(one: ScreenSet, heads: int, flash_s: float = FLASH_LEAST_S, pieces: int = USUAL_RUN) -> float:
    """Return the minutes of a run: dots of all screens overlap, so each pull but the last is flashed."""
    pulls = sum(place.film.coats for place in one.places)
    loads = -(-len(one.places) // heads)
    each = (LOAD_S + UNLOAD_S + pulls * PULL_S + (pulls - 1) * (flash_s + COOL_S)) / 60
    each += (loads - 1) * CHANGE_MIN_PER_PIECE
    return len(one.places) * (SCREEN_MIN + FILM_MIN + MOUNT_MIN) + pieces * each
