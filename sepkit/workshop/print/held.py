"""A planned print held in other ways: as the three pieces to choose from, at its worst, on a garment without print.

In: a PlannedPrint. Out: frozen descriptions and pictures; nothing is decided for good.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.preview.difference import Difference, Pairs
from sepkit.preview.garment import BareGarment, bare_garment, forget_painted
from sepkit.preview.seen import art_colours
from sepkit.preview.stack import lies_under, stack_colours, stack_rgb, unpacked
from sepkit.preview.stress import stress
from sepkit.threads import start
from sepkit.workshop.print.ladder import AS_ASKED, EVERY_INK, ONE_LOAD, SOLID, WORTH, Rung, ladder_of
from sepkit.workshop.print.options import PrintOptions, place_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from sepkit.model import U8, Bool, Garment, KindRule, Size
    from sepkit.preview.index import StackIndex
    from sepkit.workshop.print.plan import PlannedPrint

    Pack = Callable[[BareGarment], bytes]

Array = np.ndarray[Any, np.dtype[Any]]
Pick = Literal["load", "worth", "all", "asked", "solid"]
"""How a piece is asked for: no more screens than heads, what is worth them, all inks, as it stands, or without dots."""
_PICKS: dict[str, Pick] = {ONE_LOAD: "load", WORTH: "worth", EVERY_INK: "all", AS_ASKED: "asked", SOLID: "solid"}


@dataclass(frozen=True, slots=True)
class Lay:
    """What to say of the art for a print in dots to come out as another piece: its screens are solved anew for it."""

    inks: str = "auto"
    screens: int | None = None
    kind: KindRule = "auto"


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One number of inks as a finished piece."""

    called: tuple[str, ...]
    pick: Pick
    lay: Lay | None
    """For a print whose screens were solved together: how to lay its art anew; None where an edit picks the piece."""
    inks: int
    screens: int
    rounds: int
    effort: str
    """Screens, rounds and minutes in words."""
    mean_de00: float
    lost: tuple[str, ...]
    made: bool
    """Whether the print is planned this way."""
    picture: U8
    """(h, w, 3) uint8 sRGB, small."""


@dataclass(frozen=True, slots=True)
class Worst:
    """The screen and the way that show most when the press is off, mm² as printed and without trap and choke."""

    error_mm: float
    plate: int
    """-1 where nothing shows however it is off."""
    right_mm: float
    down_mm: float
    base_mm2: float
    gaps_mm2: float
    base_before_mm2: float
    gaps_before_mm2: float


def pieces_of(planned: PlannedPrint) -> tuple[Piece, ...]:
    """Return the finished pieces that there are to choose from; none where the inks were named or there is one."""
    solved = bool(planned.bench.wishes.solved)
    weighed = planned.found is not None and (solved or planned.found.choices is not None)
    ladder = ladder_of(planned) if weighed else None
    if ladder is None:
        return ()
    return tuple(
        Piece(
            called,
            _PICKS[called[0]] if WORTH not in called else "worth",
            _lay(planned, called, rung) if solved else None,
            rung.inks,
            rung.screens,
            rung.rounds,
            rung.effort(),
            rung.difference.mean_de00,
            rung.lost,
            rung is ladder.printed,
            rung.picture,
        )
        for called, rung in ladder.named()
    )


def _lay(planned: PlannedPrint, called: Sequence[str], rung: Rung) -> Lay:
    """Return what is said of the art for a rung of dots; what the press is worth without any word is said by none."""
    if SOLID in called:
        return Lay(kind="flat")
    if WORTH in called:
        return Lay(kind=planned.options.kind)
    dotted = planned.found is not None and planned.found.instead is not None
    return Lay("auto" if dotted else str(rung.inks), rung.screens, planned.options.kind)


def worst_of(planned: PlannedPrint) -> Worst:
    """Return what shows at worst when one screen is off by the register error."""
    error = planned.bench.register_error_mm
    found = stress(planned.separation.plates, dpi=planned.separation.artwork.dpi, error_mm=error)
    after, before = found.after, found.before
    shift = after.peek_shift if after.peek_mm2 >= after.gap_mm2 else after.gap_shift
    return Worst(
        error,
        -1 if shift is None else shift.plate,
        0.0 if shift is None else shift.right_mm,
        0.0 if shift is None else shift.down_mm,
        after.peek_mm2,
        after.gap_mm2,
        before.peek_mm2,
        before.gap_mm2,
    )


@dataclass(frozen=True, slots=True, eq=False)
class LiftTable:
    """What lifting screens costs in colour: pairs of (combination of coverages, art's colour), and how many there are.

    Bare garment beside the print is left out, as in the print's own difference.
    """

    levels: U8
    """(combinations, plates), 0 to 255."""
    dots: Bool
    combination: Array
    """(pairs,) row of ``levels``."""
    art: U8
    """(pairs, 3) uint8 sRGB."""
    counts: Array

    @staticmethod
    def of(planned: PlannedPrint, index: StackIndex) -> LiftTable:
        """Return the table of a print."""
        art = planned.separation.artwork
        seen = art_colours(art.rgb, art.alpha, planned.separation.garment.srgb)
        inked = index.levels.max(axis=1) > 0
        pixels = index.pixels()
        where = inked[pixels] | (art.alpha > 0)
        keys = (pixels[where].astype(np.uint64) << np.uint64(24)) | (seen[where] & np.uint32(0xFFFFFF))
        found, counts = np.unique(keys, return_counts=True)
        colours = (found & np.uint64(0xFFFFFF)).astype(np.uint32)
        levels = np.rint(index.levels * (255 / index.top)).astype(np.uint8)
        return LiftTable(
            levels, index.dots, (found >> np.uint64(24)).astype(np.int64), unpacked(colours[None])[0], counts
        )

    def difference(self, planned: PlannedPrint, lifted: Sequence[int]) -> Difference:
        """Return how far the print is from its art with some screens lifted."""
        plates, garment = planned.separation.plates, planned.bench.garment
        down = [at for at in range(len(plates)) if at not in set(lifted)]
        colours = np.full((len(self.levels), 3), garment.srgb, np.uint8)
        if down:
            under = lies_under(plates)
            colours = stack_rgb(
                [np.ascontiguousarray(self.levels[None, :, at]) for at in down],
                stack_colours([plates[at] for at in down], garment),
                tones=[np.ascontiguousarray(self.dots[None, :, at]) for at in down],
                under=[under[at] for at in down],
            )[0]
        pairs = Pairs()
        pairs.add_counted(self.art, colours[self.combination], self.counts)
        return pairs.difference(planned.seen.attainable)


class Dressed:
    """The garment without print, packed for whoever shows it: begun when the art is read, beside the deciding."""

    def __init__(
        self, options: PrintOptions, garment: Garment, size: Size, pack: Callable[[BareGarment], bytes]
    ) -> None:
        self._options, self._garment, self._pack = options, garment, pack
        self._begin(size)

    def bytes(self, size: Size) -> bytes:
        """Return it for a print of this size; made anew where the art came out another, as a drawing on paper does.

        Raises UsageError for a place that the garment has not.
        """
        if size != self._size:
            self._begin(size)
        return self._made.result()

    def _begin(self, size: Size) -> None:
        def made() -> bytes:
            place = place_of(self._options, self._garment, size)
            packed = self._pack(bare_garment(self._garment, size, place))
            forget_painted()  # a session lives long, and shows it from what is packed
            return packed

        self._size, self._made = size, start(made)
