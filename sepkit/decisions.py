"""What is asked for and decided about a print, as frozen types that flow between rooms. Nothing is computed here.

Ways of an ink on a garment, rounds of screens, overprint colours, and the person's wishes as parsed values: colours and
inks instead of names, a mesh instead of its word. Areas of the art are named by their colour as found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, get_args

from sepkit.model import InkRequest

if TYPE_CHECKING:
    from sepkit.model import RGB8, BaseRule, DotShape, Ink, Mesh, WhiteScreens

TOLERANCE_DE00 = 3.0
"""Largest ΔE00 that passes for the same colour on a garment at arm's length (common practice: 2 to 4)."""


@dataclass(frozen=True, slots=True)
class CoatOption:
    """One way to print an ink on the garment, and what it looks like."""

    label: str
    base_coats: int
    coats: int
    srgb: RGB8
    de00: float
    cost: float
    worst_de00: float = 0.0
    """At the weak end of the ink's band, where it covers least."""


@dataclass(frozen=True, slots=True)
class CoatChoice:
    """All options of an ink, and the chosen one with the reason."""

    options: tuple[CoatOption, ...]
    chosen: CoatOption
    within_tolerance: bool
    why: str


@dataclass(frozen=True, slots=True)
class Help:
    """What would bring an ink nearest to its meant colour, and the ΔE00 that it would have."""

    words: str
    de00: float


@dataclass(frozen=True, slots=True)
class Rounds:
    """Screens by round, in print order, and the pairs that lie in different rounds though they touch."""

    rounds: tuple[tuple[int, ...], ...]
    parted: tuple[tuple[int, int, float], ...]
    """(earlier, later, distance in mm), nearest first; empty when the garment may be taken off between rounds."""

    @property
    def order(self) -> tuple[int, ...]:
        """All screens, round after round."""
        return tuple(i for screens in self.rounds for i in screens)

    def round_of(self, index: int) -> int:
        """Return the round of a screen, from 1."""
        return next(number for number, screens in enumerate(self.rounds, 1) if index in screens)

    def reload_after(self, number: int) -> bool:
        """Return whether the garment may be taken off and loaded again after round ``number``."""
        return not any(self.round_of(a) <= number < self.round_of(b) for a, b, _ in self.parted)


InkSource = Literal["stock", "mixed", "nearest"]
"""An ink of the shelf, a mix within tolerance, or the nearest of a colour that cannot be mixed here."""
INK_SOURCES: tuple[InkSource, ...] = get_args(InkSource)


@dataclass(frozen=True, slots=True, eq=False)
class InkChoice:
    """The ink that prints a colour of the art."""

    srgb: RGB8
    """As asked."""
    ink: Ink
    how: InkSource
    de00: float
    """From the colour asked to the ink's opaque film."""


@dataclass(frozen=True, slots=True)
class SavedInk:
    """A colour of the art without a screen of its own, and the inks that print it, in print order."""

    name: str
    art_srgb: RGB8
    first: str
    second: str
    print_srgb: RGB8
    de00: float


@dataclass(frozen=True, slots=True)
class OverprintColours:
    """The colours that two inks print over each other, and what the print would take without them."""

    colours: tuple[SavedInk, ...]
    screens_without: int
    flashes_without: int


@dataclass(frozen=True, slots=True)
class BaseRules:
    """The rule about a base for all inks, and those for single ones by name, in lower case."""

    every: BaseRule = "auto"
    single: Mapping[str, BaseRule] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class AreaWish:
    """What a person wants for one area of the art; None leaves it to be decided."""

    ink: Ink | None = None
    base: BaseRule | None = None
    coats: int | None = None
    """1 to 3."""
    mesh: Mesh | None = None
    name: str = ""
    """What its plate is called; empty takes a word for its colour."""

    def __bool__(self) -> bool:
        """Whether anything is wished."""
        return any((self.ink, self.base, self.coats, self.mesh, self.name))

    @property
    def only_named(self) -> bool:
        """Whether nothing but a name is wished."""
        return not any((self.ink, self.base, self.coats, self.mesh))


@dataclass(frozen=True, slots=True, eq=False)
class Wishes:
    """What a person wants of a print; None takes the default of press and garment."""

    inks: InkRequest = field(default_factory=InkRequest)
    all_inks: bool = False
    """Print every ink that was found, whatever it costs."""
    most_screens: int | None = None
    """No more screens than these, the base among them; None leaves it to what they are worth."""
    base: BaseRules = field(default_factory=BaseRules)
    trap_mm: float | None = None
    choke_mm: float | None = None
    overprint_mm: float = 0.0
    """Dark lines up to this width print over the lighter inks beside them; 0 knocks all out."""
    overprint_colours: bool = False
    """Whether two transparent inks printed one over the other may stand for a third."""
    tolerance_de00: float = TOLERANCE_DE00
    white_screens: WhiteScreens = "auto"
    highlight: bool = False
    """Print seen white last, as a screen of its own on the base."""
    light_base: bool = False
    """Thin the base to a tint under inks that need less of it."""
    mesh: Mesh | None = None
    lpi: float | None = None
    angle_deg: float | None = None
    """Of the first tone plate; the next turn by 30 degrees each."""
    shape: DotShape = "ellipse"
    as_brought: bool = False
    """Areas are plates that the art brings: their whites stay as they are, and tints are not solved anew."""
    solved: bool = False
    """Areas are screens solved together for a tonal picture, in print order: each is printed as it is."""
    areas: Mapping[RGB8, AreaWish] = field(default_factory=dict)
    """By the colour of an area as found in the art."""
    order: tuple[RGB8, ...] = ()
    """Areas by colour, first to last: they take, in this order, the places that their inks would have."""


@dataclass(frozen=True, slots=True, eq=False)
class AreaEdit:
    """What a person changed about one area of the art, named by its colour as found."""

    of: RGB8
    wish: AreaWish = field(default_factory=AreaWish)
    into: RGB8 | None = None
    """The area that it prints with, on that one's screen."""
    open: bool = False
    """Whether it is left open: the garment shows."""


@dataclass(frozen=True, slots=True)
class PartEdit:
    """One connected part of an area, moved to another area's screen or left open."""

    at_mm: tuple[float, float]
    """A place in the part, in mm from the art's top left: (right, down)."""
    of: RGB8
    to: RGB8 | None = None
    """None: left open."""


@dataclass(frozen=True, slots=True, eq=False)
class PrintEdits:
    """What a person changed about a print by hand, applied between separating and deciding."""

    areas: tuple[AreaEdit, ...] = ()
    parts: tuple[PartEdit, ...] = ()
    order: tuple[RGB8, ...] = ()
    """As in Wishes; empty: decided."""
    trap_mm: float | None = None
    choke_mm: float | None = None
    screens: int | None = None
    """No more screens than these; None: as many as are worth it."""
    all_inks: bool = False
    """All inks of the art, however little one gains."""
    art_sha256: str = ""
    """Of the file that they were made for, in hex; empty where it is not known."""

    def __bool__(self) -> bool:
        """Whether anything was changed."""
        rules = self.trap_mm is not None or self.choke_mm is not None or self.screens is not None or self.all_inks
        return bool(self.areas or self.parts or self.order or rules)
