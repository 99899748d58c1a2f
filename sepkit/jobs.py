"""The frozen types of a job: what the person wrote in the job file, in mm, g, minutes and shares 0..1.

A job is a drop: several prints on several garments, made on one press by one person. Pure types, nothing computed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, get_args

from sepkit.decisions import TOLERANCE_DE00

if TYPE_CHECKING:
    from pathlib import Path

    from sepkit.model import (
        BackgroundRule,
        DotShape,
        DotsRule,
        EdgeRule,
        KindRule,
        Mesh,
        OneInkFrom,
        Press,
        SeparateBy,
        ShadingRule,
        SoftRule,
        WhiteScreens,
    )

InkKind = Literal["plastisol", "water-based", "high-solids", "discharge"]
Opening = Literal["none", "pocket", "zip"]
"""What a garment's front has in its middle."""

Way = Literal["auto", "batches", "two days", "fewer inks"]
"""How a print of more screens than heads is carried out, where the garment must not be loaded again between."""
SparesRule = Literal["lean", "least cost", "safe"]
"""Spares as many as are lost on average, those that cost least, or those that fill the run with a certainty."""

WAYS: tuple[Way, ...] = get_args(Way)
SPARES_RULES: tuple[SparesRule, ...] = get_args(SparesRule)
DEFAULT_LOSS = 0.02
"""Garments lost at each placement (common practice)."""
INK_KINDS: tuple[InkKind, ...] = get_args(InkKind)
OPENINGS: tuple[Opening, ...] = get_args(Opening)


@dataclass(frozen=True, slots=True)
class Print:
    """One piece of art at one place on some garments."""

    name: str
    art: Path
    """Absolute path of the art."""
    placement: str
    """A key of places.PLACES, such as "full back" or "left chest"."""
    width_mm: float | None = None
    height_mm: float | None = None
    garments: tuple[str, ...] = ()
    """Garments of the job that carry it; all of them when the file names none."""
    inks: str = "auto"
    """As ``sepkit separate --inks``: auto, a count, or a comma list of shelf inks and #rrggbb."""
    base: tuple[str, ...] = ()
    mesh: str | None = None
    soft: SoftRule = "tone"
    edges: EdgeRule = "smooth"
    """Whether outlines of coarse flat art are drawn again."""
    background: BackgroundRule = "print"
    """What becomes of a colour that fills the picture to its border."""
    lpi: float | None = None
    may_turn_90: bool = False
    """The garment can be loaded sideways for it, as a sleeve can."""
    one_ink: str = ""
    """Print the art in this one ink, whatever its colours are."""
    one_ink_on: dict[str, str] = field(default_factory=dict)
    """Garment to the one ink on it, where it differs from ``one_ink``."""
    one_ink_from: OneInkFrom = "auto"
    kind: KindRule = "auto"
    """What the art is taken for."""
    shading: ShadingRule = "open"
    """What becomes of pencil shading in a drawing on paper."""
    sizes: tuple[str, ...] = ()
    """Only garments of these sizes carry it, as a neck label of one size; all when empty."""
    way: Way = "auto"
    trap_mm: float | None = None
    choke_mm: float | None = None
    overprint_mm: float = 0.0
    overprint_colours: bool = False
    tolerance_de00: float = TOLERANCE_DE00
    white_screens: WhiteScreens = "auto"
    highlight: bool = False
    light_base: bool = False
    angle_deg: float | None = None
    shape: DotShape = "ellipse"
    screens: int | None = None
    by: SeparateBy = "auto"
    dots: DotsRule = "average"
    edits: Path | None = None
    """Absolute path of an edits file."""
    ladder: bool = True
    explain: bool = False
    check_discs: bool = False
    """These as the options of the same names of ``sepkit separate``."""


@dataclass(frozen=True, slots=True)
class GarmentLine:
    """One garment of the job and how many are ordered in each size."""

    garment: str
    """A name on the garment shelf, or #rrggbb of a tee."""
    sizes: dict[str, int] = field(default_factory=dict)
    """Size to pieces ordered, smallest size first; empty while orders are not in."""
    expected: int = 0
    """Pieces expected in all while orders come in: the rest is shared out by ``curve``."""
    curve: str = ""
    """Name of a size curve for ``expected``."""
    children: bool = False
    opening: Opening = "none"
    """A pocket or a zip on the front."""
    price: float = 0.0
    """What one blank costs, in the job's currency."""

    @property
    def pieces(self) -> int:
        """Pieces ordered, or expected."""
        return sum(self.sizes.values()) or self.expected


@dataclass(frozen=True, slots=True)
class Screen:
    """Frames of one size and mesh that the person owns. The height runs from the clamp end to the free end."""

    name: str
    inside_width_mm: float
    inside_height_mm: float
    mesh: Mesh
    count: int = 1


@dataclass(frozen=True, slots=True)
class Blade:
    """A squeegee: its width across the screen, and its hardness (Shore A)."""

    width_mm: float
    shore_a: int = 70
    count: int = 1


@dataclass(frozen=True, slots=True)
class FilmPrinter:
    """Film sheet or roll: ``sheet_height_mm`` 0 is a roll, as long as needed."""

    sheet_width_mm: float = 329.0
    sheet_height_mm: float = 483.0
    margin_mm: float = 6.0
    dpi: float = 720.0
    overlap_mm: float = 12.0
    """How far two tiles of one film overlap."""


@dataclass(frozen=True, slots=True)
class HeatPress:
    """The heat press: plate size, and what one cycle is set to."""

    plate_width_mm: float = 380.0
    plate_height_mm: float = 380.0
    set_c: float = 165.0
    seconds: float = 40.0
    overlap_mm: float = 40.0


@dataclass(frozen=True, slots=True)
class Spoilage:
    """How much goes wrong. ``loss`` is the share of garments lost at each placement (2 % is common practice)."""

    loss: float = DEFAULT_LOSS
    certainty: float = 0.95
    """Chance that the whole run is filled, where spares are to be safe."""
    loss_by_placement: dict[str, float] = field(default_factory=dict)
    test_garments: int = 1
    """Garments given up for first pulls: what one print spoils serves for the next, so one tests all prints on it."""
    wash_tests: int = 0
    """Further garments kept for wash tests, beside those that the first pulls give."""
    spares: SparesRule = "least cost"
    late_order: float | None = None
    """What buying blanks late costs beside them: postage, and the evening at the press. None: none can be bought."""
    kept: float = 0.5
    """Share of its price that a blank left over is worth in the next drop (common practice)."""
    most_spares: float = 0.2
    """Spares of least cost stay within this share of the orders (common practice)."""


@dataclass(frozen=True, slots=True)
class Money:
    """Prices in one currency; 0 means not told."""

    currency: str = "EUR"
    hour: float = 0.0
    ink_kg: float = 0.0
    film_m2: float = 0.0
    screen: float = 0.0
    """Emulsion, tape and stencil removal of one screen."""
    piece: float = 0.0
    """Paper, adhesive, energy and packing of one garment."""
    price: float = 0.0
    """What one garment sells for."""
    platen: float = 60.0
    """What one more platen costs (from memory: wood or aluminium, with its lock)."""


@dataclass(frozen=True, slots=True)
class Leftover:
    """Ink of an earlier job in a cup: what is on the shelf is used before more is mixed."""

    ink: str
    mass_g: float


RunKind = Literal["print", "round", "ink"]
RUN_KINDS: tuple[RunKind, ...] = get_args(RunKind)


@dataclass(frozen=True, slots=True)
class RunRow:
    """One line of what really happened: misprints of a size, minutes of a round, or grams of an ink.

    ``planned`` are pieces, minutes or g as planned, ``actual`` misprints, minutes or g that did not come back; None
    where the line was left open.
    """

    run: str
    """Which plan it belongs to: title and a mark of the plan."""
    kind: RunKind
    name: str
    garment: str
    placement: str
    size: str
    planned: float
    actual: float | None = None
    factor: float = 1.0
    """The ink factor or pace that was planned with."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that the shop has counted itself: with its band (80 %), the runs behind it, and how much was counted."""

    value: float
    low: float
    high: float
    runs: int
    counted: float


@dataclass(frozen=True, slots=True)
class ShopFigures:
    """What the shop's own runs tell; empty until one was recorded."""

    losses: dict[str, Figure] = field(default_factory=dict)
    """Share lost at a placement."""
    ink_factor: Figure | None = None
    """Weighed ink over the computed ink."""
    pace: Figure | None = None
    """Minutes over those that are common practice."""


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """A whole job as read and checked; every path absolute, every name known."""

    title: str
    folder: Path
    prints: tuple[Print, ...]
    garments: tuple[GarmentLine, ...]
    press: Press
    screens: tuple[Screen, ...]
    blades: tuple[Blade, ...]
    film: FilmPrinter = FilmPrinter()
    heat_press: HeatPress = HeatPress()
    spoilage: Spoilage = Spoilage()
    money: Money = Money()
    ink_kind: InkKind = "plastisol"
    scale_step_g: float = 0.1
    edge_growth_um: float = 0.0
    ink_factor: float = 1.0
    """Measured ink per hit over the mesh's theoretical volume (1 = as computed)."""
    leftovers: tuple[Leftover, ...] = ()
    shop: ShopFigures = ShopFigures()
    """The shop's own figures; what the job says itself wins."""
    screens_apart: bool = False
    """Burn films of its own for each cloth, instead of one film for all where one serves."""
    platen_reach_mm: float | None = None
    """Farthest from the clamp at which a print still lands on the platen; None: no limit told."""
