"""A print folder opened again: drawn, or decided anew with other wishes, from what the folder itself holds.

In: a print folder. Out: its bench, areas and plates; predicted pictures and plans. No shelf is asked: inks, cloth and
press are those of the record.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError, WriteError, near_names
from sepkit.files.folders.planes import AGAIN
from sepkit.files.folders.print_folder import PrintFolder, read_print_folder
from sepkit.model import Size
from sepkit.plates.bench import Bench
from sepkit.plates.overprint_plan import decide_plates
from sepkit.press.filming import tone_curve
from sepkit.preview.stack import printed_rgb

if TYPE_CHECKING:
    from sepkit.decisions import Wishes
    from sepkit.files.folders.bench import BenchFacts
    from sepkit.model import U8, Ink, InkArea
    from sepkit.plates.decide import Plan


@dataclass(frozen=True, slots=True, eq=False)
class ReopenedPrint:
    """A print as its folder holds it."""

    kept: PrintFolder
    areas: tuple[InkArea, ...]
    bench: Bench

    def picture(self) -> U8:
        """Return the predicted print, (h, w, 3) uint8 sRGB."""
        record = self.kept.record
        return printed_rgb(self.kept.plates, record.garment, tone_curve=tone_curve(record.film.making))

    def decided(self, wishes: Wishes | None = None) -> Plan:
        """Decide the print again, with other wishes or with its own. Raises UsageError as ``decide_plates`` does."""
        bench = self.bench if wishes is None else replace(self.bench, wishes=wishes)
        return decide_plates(self.areas, Size(self.kept.width_mm, self.kept.height_mm), bench)


def reopened(folder: Path) -> ReopenedPrint:
    """Open a print folder. Raises WriteError for a damaged one, or one whose record does not say how it was decided."""
    kept = read_print_folder(folder)
    if kept.record.bench is None or not kept.record.areas:
        raise WriteError("the record does not say how it was decided", where=str(folder), hint=AGAIN)
    return ReopenedPrint(kept, kept.areas(), _bench(kept, kept.record.bench))


def _bench(kept: PrintFolder, facts: BenchFacts) -> Bench:
    inks = {plate.ink.name.lower(): plate.ink for plate in kept.record.plates} | {
        facts.base_ink.name.lower(): facts.base_ink
    }

    def ink(name: str) -> Ink:
        found = inks.get(" ".join(name.lower().split()))
        if found is None:
            raise NotFoundError(f'the print holds no ink "{name}"', where=str(kept.folder), hint=near_names(name, inks))
        return found

    return Bench(
        garment=kept.record.garment,
        press=facts.press,
        base_ink=facts.base_ink,
        white_cloth=facts.white_cloth,
        ink=ink,
        wishes=facts.wishes,
        frames=facts.frames,
        may_turn=facts.may_turn,
        measured=facts.measured,
        mixed={one.srgb: one for one in facts.mixed},
    )
