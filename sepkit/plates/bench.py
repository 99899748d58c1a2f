"""What deciding knows beside the areas: cloth, press, base ink, frames and wishes, as things and not as words.

Made once at the door of a command, from the shelf or from a print folder's record, and handed down. Below it nobody
looks up a name or reads a file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sepkit.coverage.keep import Keep
from sepkit.coverage.sums import mean_level
from sepkit.decisions import PrintEdits, Wishes
from sepkit.plates.coats import Ground
from sepkit.plates.stock import MOST_INKS_MIXED, SCALE_STEP_G, stock_inks

if TYPE_CHECKING:
    from sepkit.decisions import InkChoice
    from sepkit.jobs import Screen
    from sepkit.model import F64, RGB8, Garment, Ink, InkArea, Press
    from sepkit.plates.tonal.choose import Weighed

BASE_INK = "white"
WHITE_CLOTH = "white tee"
FLEECE_REGISTER_FACTOR = 1.7
"""Fleece creeps on the platen: 0.85 mm where a tee has 0.5 (common practice, from memory)."""
DARK_L = 60.0
"""A garment below this L* counts as dark for mesh advice."""


def register_error_mm(press: Press, garment: Garment) -> float:
    """Return how far two prints may fall apart on a press and a cloth."""
    return press.register_error_mm * (FLEECE_REGISTER_FACTOR if garment.fleece else 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """Everything that decides a print on one garment and press."""

    garment: Garment
    press: Press
    base_ink: Ink
    white_cloth: F64
    """(31,) reflectance of the white cloth on which an ink's colour is meant."""
    ink: Callable[[str], Ink]
    """From a name of the shelf to its ink. Raises NotFoundError."""
    wishes: Wishes = field(default_factory=Wishes)
    edits: PrintEdits = field(default_factory=PrintEdits)
    """Changes by hand, applied to the areas before they are decided."""
    frames: tuple[Screen, ...] = ()
    """Frames that are owned; none: any mesh may be asked for."""
    may_turn: bool = False
    """Whether the garment may be loaded sideways, so that a print fits a frame either way."""
    measured: Mapping[str, float] = field(default_factory=dict)
    """What a calibration print told of the press: names with their units to numbers."""

    shelf: tuple[Ink, ...] = ()
    """Inks that are owned and not mixed from others; none: colours are taken as if they could be mixed exactly."""
    process: tuple[Ink, ...] = ()
    """Transparent inks that are owned: they make colours by overprint and go into no mix."""
    mixed: Mapping[RGB8, InkChoice] = field(default_factory=dict)
    """The ink that was found for a colour of the art."""

    best: Mapping[RGB8, RGB8] = field(default_factory=dict)
    """What each colour of the art prints as when all inks have their screens; none: not asked, as inks were named."""

    weighed: Weighed | None = None
    """The sets of screens that were weighed for tonal art; None where nothing was solved."""

    keep: Keep = field(default_factory=Keep)
    """What deciding keeps for the next time: figures, and with room for them whole planes."""

    def stocked(self, areas: Sequence[InkArea], *, most: int = MOST_INKS_MIXED) -> Bench:
        """Return the bench with an ink for the colour of each area, from the shelf or mixed of ``most`` of its inks."""
        if not self.shelf or not areas:
            return self
        levels = [mean_level(area.coverage) for area in areas]
        whole = max(sum(levels), 1e-9)
        shares = {area.asked_srgb: level / whole for area, level in zip(areas, levels, strict=True)}
        return replace(self, mixed=self.stock(shares, most=most))

    def stock(self, shares: Mapping[RGB8, float], *, most: int = MOST_INKS_MIXED) -> dict[RGB8, InkChoice]:
        """Return an ink for each colour, by its share of the print, as this shelf and scale can make it."""
        step_g = self.measured.get("scale_step_g", SCALE_STEP_G)
        tolerance = self.wishes.tolerance_de00
        return stock_inks(shares, self.shelf, tolerance_de00=tolerance, most=most, scale_step_g=step_g)

    @property
    def ground(self) -> Ground:
        """What lies under the inks."""
        return Ground(self.base_ink, self.garment.reflectance, self.white_cloth)

    @property
    def register_error_mm(self) -> float:
        """How far two prints may fall apart on this press and cloth."""
        return register_error_mm(self.press, self.garment)

    @property
    def trap_mm(self) -> float:
        """Overlap of touching inks: as wished, else the register error."""
        return self.register_error_mm if self.wishes.trap_mm is None else self.wishes.trap_mm

    @property
    def choke_mm(self) -> float:
        """How far the base draws in: as wished, else the register error."""
        return self.register_error_mm if self.wishes.choke_mm is None else self.wishes.choke_mm

    @property
    def dark(self) -> bool:
        """Whether the garment counts as dark."""
        return self.garment.lab[0] < DARK_L
