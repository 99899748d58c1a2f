"""What lies on the ink shelf, and how an ink looks: masstone, white tints, on white and on black cloth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.inks.bands import FROM_A_WORD, TO_ORDER
from sepkit.inks.identify import contrast_ratio
from sepkit.inks.looks import Look, opaque_look, printed_look
from sepkit.inks.mixing import mix
from sepkit.units import to_hex
from sepkit.workshop.inks.pictures import Patch, write_card

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import RGB8, Ink

TINTS_PERCENT = (2, 5, 10, 20, 50)
CLOTHS: tuple[tuple[str, RGB8], ...] = (("white cloth", (244, 244, 242)), ("black cloth", (26, 26, 28)))
CARD_LOOKS = (
    "masstone",
    "in white, 5 %",
    "in white, 20 %",
    "on white cloth, 1 coat",
    "on black cloth, 1 coat",
    "on black cloth, over white base",
)
"""What the card of the whole shelf shows of each ink."""


@dataclass(frozen=True, slots=True, eq=False)
class ShelfInk:
    """An ink, the contrast ratio of one coat (Y over black / Y over white, 0..1), and L* of 5 % by weight in white."""

    ink: Ink
    contrast_ratio: float
    tint_lightness: float | None
    """None when the shelf holds no white."""


@dataclass(frozen=True, slots=True, eq=False)
class ShelfList:
    """The inks of the shelf by name, and the card that was written."""

    inks: tuple[ShelfInk, ...]
    card: Path | None

    @property
    def any_estimated(self) -> bool:
        """Whether one of them was never measured."""
        return any(one.ink.status == "estimated" for one in self.inks)


@dataclass(frozen=True, slots=True)
class ShownLook:
    """One way of showing an ink: a group such as "on black cloth", which one of it, and the ground it lies on."""

    group: str
    detail: str
    look: Look
    ground: RGB8 | None = None

    @property
    def label(self) -> str:
        """Group and detail in words."""
        return f"{self.group}, {self.detail}" if self.detail else self.group


@dataclass(frozen=True, slots=True, eq=False)
class ShownInk:
    """An ink, its looks, a line that says what it is, and the card that was written."""

    ink: Ink
    looks: tuple[ShownLook, ...]
    heading: str
    card: Path | None


def estimated_words() -> str:
    """Return how near prints come to inks that are estimates."""
    alone, mixed = FROM_A_WORD.colour_de00, TO_ORDER.colour_de00
    return f"estimated: nine of ten prints come within ΔE00 {alone:.0f}, mixes within {mixed:.0f}"


def list_inks(shelf: Shelf, *, card: Path | None = None, force: bool = False) -> ShelfList:
    """Return the inks of the shelf, and write a swatch card of them to ``card``.

    Raises DataFileError for a broken ink file, WriteError when the card exists and ``force`` is False.
    """
    inks = [shelf.ink(name) for name in shelf.ink_names()]
    white = next((ink for ink in inks if ink.name == "white"), None)
    rows = tuple(
        ShelfInk(ink, contrast_ratio(ink.absorption, ink.scattering), _tint_lightness(ink, white)) for ink in inks
    )
    if card is not None:
        write_card("ink shelf", [_shelf_row(ink, shelf) for ink in inks], card, force=force)
    return ShelfList(rows, card)


def show_ink(name: str, shelf: Shelf, *, card: Path | None = None, force: bool = False) -> ShownInk:
    """Return how one ink looks, and write a swatch card of it to ``card``.

    Raises NotFoundError, and WriteError when the card exists and ``force`` is False.
    """
    ink = shelf.ink(name)
    looks = tuple(_looks(ink, shelf.ink("white")))
    heading = f"{ink.name}: {ink.kind}, {ink.status}, {ink.density_g_ml:g} g/ml, {to_hex(ink.srgb)}"
    if card is not None:
        groups = dict.fromkeys(one.group for one in looks)
        rows = [
            (group, [Patch(one.look, one.detail or group, one.ground) for one in looks if one.group == group])
            for group in groups
        ]
        write_card(heading, rows, card, force=force)
    return ShownInk(ink, looks, heading, card)


def _tint_lightness(ink: Ink, white: Ink | None) -> float | None:
    return None if white is None else opaque_look(mix([(white, 95.0), (ink, 5.0)])).lab[0]


def _looks(ink: Ink, white: Ink) -> Iterator[ShownLook]:
    """Yield the masstone, the tints in white (none of white itself), and prints on each cloth."""
    yield ShownLook("masstone", "", opaque_look(ink))
    if ink.name != white.name:
        for percent in TINTS_PERCENT:
            tint = mix([(white, 100.0 - percent), (ink, float(percent))])
            yield ShownLook("in white", f"{percent} %", opaque_look(tint))
    for name, srgb in CLOTHS:
        cloth, group = srgb8_to_reflectance(srgb), f"on {name}"
        yield ShownLook(group, "1 coat", printed_look([(ink, 1.0)], cloth), srgb)
        yield ShownLook(group, "2 coats", printed_look([(ink, 2.0)], cloth), srgb)
        yield ShownLook(group, "over white base", printed_look([(white, 1.0), (ink, 1.0)], cloth), srgb)


def _shelf_row(ink: Ink, shelf: Shelf) -> tuple[str, list[Patch]]:
    shown = [one for one in _looks(ink, shelf.ink("white")) if one.label in CARD_LOOKS]
    return f"{ink.name} ({ink.status})", [Patch(one.look, one.label.removeprefix("on "), one.ground) for one in shown]
