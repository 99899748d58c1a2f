"""Which inks print after changes by hand: those that were chosen before them.

Another pot on a screen takes no other screen away: what was weighed for the art as found stands, and changes are
followed through it. In: areas before and after, a Reduction of the former. Out: the Reduction of the latter, or None
where it cannot be followed (a person speaks of an ink that was left out, or an area stood in one that is gone).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.plates.drafts import wish_of
from sepkit.plates.knee import OPEN, Reduction, Stand

if TYPE_CHECKING:
    from sepkit.model import RGB8, InkArea
    from sepkit.plates.bench import Bench
    from sepkit.plates.choices import Choices


@dataclass(frozen=True, slots=True, eq=False)
class Before:
    """What was chosen before changes by hand, and what these do with areas."""

    areas: tuple[InkArea, ...]
    choices: Choices
    goes: Mapping[RGB8, RGB8 | None]
    """Areas that print on another's screen, by that area's colour; None: cloth shows."""

    def followed(self, reduction: Reduction, now: Sequence[InkArea], bench: Bench) -> Reduction | None:
        """Return the reduction of the areas as they are now; None where it cannot be followed."""
        at = {area.srgb: k for k, area in enumerate(now)}
        stand_of = {area.srgb: stand for area, stand in zip(self.areas, reduction.stands, strict=True)}
        own = {self.areas[k].srgb for k in reduction.kept}
        spoken = {area.srgb for area in now if not wish_of(area, bench).only_named}
        spoken |= {to for to in self.goes.values() if to is not None} | {one for one in bench.wishes.order if one in at}
        if not spoken <= own:
            return None
        stands = []
        for area in now:
            stand = stand_of[area.srgb]
            if area.srgb in own:
                stands.append(Stand(at[area.srgb]))
                continue
            to = None if stand.ink == OPEN else self._end_of(self.areas[stand.ink].srgb)
            if stand.ink != OPEN and to not in at:
                return None
            stands.append(stand if to is None else Stand(at[to], stand.share))
        kept = tuple(k for k, area in enumerate(now) if area.srgb in own)
        return Reduction(kept, tuple(stands), reduction.lost) if kept else None

    def all_followed(self, now: Sequence[InkArea], bench: Bench) -> list[Reduction]:
        """Return the reductions of all choices that can be followed, each once, fewest inks first."""
        found: dict[tuple[int, ...], Reduction] = {}
        for choice in self.choices.each:
            one = self.followed(choice.reduction, now, bench)
            if one is not None:
                found.setdefault(one.kept, one)
        return list(found.values())

    def _end_of(self, colour: RGB8) -> RGB8 | None:
        return self.goes.get(colour, colour)
