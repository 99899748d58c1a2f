"""The frozen types that flow between the rooms.

Coverage is one convention everywhere: uint8, 0 = no ink, 255 = solid. Film rows: bit 1 = black = ink.
Lengths in mm, masses in g, temperatures in °C. sRGB and hex mean D65, 2 degree observer.
Spectral quantities are float64 over 400-700 nm in steps of 10 nm (31 bands).
Types that carry arrays compare by identity (eq=False) and hold them read-only.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal, Protocol, TypeGuard, get_args

from sepkit.units import parse_hex

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    U8 = npt.NDArray[np.uint8]
    U32 = npt.NDArray[np.uint32]
    F32 = npt.NDArray[np.float32]
    F64 = npt.NDArray[np.float64]
    Bool = npt.NDArray[np.bool_]

RGB8 = tuple[int, int, int]
LAB = tuple[float, float, float]
Level = Literal["info", "warn", "error"]
Role = Literal["underbase", "colour", "highlight"]
InkStatus = Literal["measured", "estimated"]
PeriodicDot = Literal["ellipse", "round", "line"]
"""Halftone dots on a lattice, with a ruling and an angle; `film.screen.SPOTS` draws them."""
DotShape = Literal[PeriodicDot, "blue-noise"]
SoftRule = Literal["tone", "drop", "solid"]
"""What becomes of soft transparent shadows."""
BackgroundRule = Literal["print", "drop"]
"""What becomes of a colour that fills the picture to its border."""
EdgeRule = Literal["smooth", "as-drawn"]
"""Whether outlines of coarse flat art are drawn again where they are uneven: after compression, enlarging, in steps."""
SeparateBy = Literal["auto", "colour", "plate", "layer"]
"""By what art is parted: its colours, the inks that a PDF names, the named layers of an SVG; auto: inks where named."""
DotsRule = Literal["average", "keep", "screen"]
"""What becomes of printed dots in a scan: averaged to tones, kept one to one, or screened over as they are."""
BaseRule = Literal["auto", "always", "never"]
WhiteScreens = Literal["auto", "one", "two"]
"""Whether a white that is both seen and base is one screen hit twice, or two; auto: one where it saves a round."""
OneInkFrom = Literal["auto", "shape", "dark", "light", "tone"]
"""What of the art one ink prints: its figure as found (auto), all that is opaque, its dark or its light areas, or its
tones as a halftone."""
ArtKind = Literal["flat", "drawing", "one-colour", "tonal", "scanned", "plates"]
"""What kind of art a picture is: solid colours, a drawing on paper, one colour, tones, a scan of print, made plates."""
KindRule = Literal["auto", "flat", "drawing", "tonal"]
"""What art is taken for: what it looks like (auto), or what the person says."""
ShadingRule = Literal["open", "tone"]
"""What becomes of soft pencil shading in a drawing on paper."""
GarmentShape = Literal["tee", "long sleeve", "hoodie"]
"""How a garment is cut and drawn."""

PERIODIC_DOTS: tuple[PeriodicDot, ...] = get_args(PeriodicDot)
DOT_SHAPES: tuple[DotShape, ...] = get_args(DotShape)
SOFT_RULES: tuple[SoftRule, ...] = get_args(SoftRule)
DOTS_RULES: tuple[DotsRule, ...] = get_args(DotsRule)
SEPARATE_BY: tuple[SeparateBy, ...] = get_args(SeparateBy)
BACKGROUND_RULES: tuple[BackgroundRule, ...] = get_args(BackgroundRule)
EDGE_RULES: tuple[EdgeRule, ...] = get_args(EdgeRule)
BASE_RULES: tuple[BaseRule, ...] = get_args(BaseRule)
WHITE_SCREENS: tuple[WhiteScreens, ...] = get_args(WhiteScreens)
ONE_INK_FROM: tuple[OneInkFrom, ...] = get_args(OneInkFrom)
KIND_RULES: tuple[KindRule, ...] = get_args(KindRule)
SHADING_RULES: tuple[ShadingRule, ...] = get_args(ShadingRule)
GARMENT_SHAPES: tuple[GarmentShape, ...] = get_args(GarmentShape)
ROLES: tuple[Role, ...] = get_args(Role)
INK_STATUSES: tuple[InkStatus, ...] = get_args(InkStatus)

BANDS_NM = tuple(range(400, 701, 10))


def is_periodic(shape: DotShape) -> TypeGuard[PeriodicDot]:
    """Tell whether dots stand on a lattice: scattered ones have no ruling, no angle and no beat with the mesh."""
    return shape in PERIODIC_DOTS


def _freeze(*arrays: Any) -> None:
    for array in arrays:
        if array is not None:
            array.setflags(write=False)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing the person should know: a short code, how serious, what, what to do, and where in mm.

    Fact and hint have at most twelve words each, names and figures among them; what else there is to say is ``more``.
    """

    code: str
    level: Level
    text: str
    hint: str = ""
    place_mm: tuple[float, float] | None = None
    """Millimetres from the art's top left: (right, down)."""
    more: str = ""
    """Figures and reasons, for whoever asks: folded in the sheet, whole in JSON."""

    @property
    def word(self) -> str:
        """The level as people and JSON read it: error, warning or note."""
        return {"error": "error", "warn": "warning", "info": "note"}[self.level]

    @property
    def rank(self) -> int:
        """The serious first: 0 error, 1 warning, 2 note."""
        return ("error", "warn", "info").index(self.level)


class Progress(Protocol):
    """Receives progress of long work."""

    def step(self, stage: str, done: int, total: int) -> None:
        """Tell that ``done`` of ``total`` parts of ``stage`` are finished."""


@dataclass(frozen=True, slots=True)
class MixPart:
    """One ink of a mix: its name on the shelf, and its share by mass, 0..1."""

    ink: str
    mass_share: float


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """An ink as layer optics see it.

    absorption and scattering are the two Kubelka-Munk coefficients K and S per coat of the reference film
    (dimensionless, 31 bands, >= 0).
    """

    name: str
    absorption: F64
    scattering: F64
    density_g_ml: float
    kind: str
    status: InkStatus
    srgb: RGB8
    """Masstone: an opaque film, sRGB D65/2."""
    source: str = ""
    date: str = ""
    parts: tuple[MixPart, ...] = ()
    """What it is to be mixed from, heaviest first; empty for an ink that comes from a pot."""

    def __post_init__(self) -> None:
        _freeze(self.absorption, self.scattering)


@dataclass(frozen=True, slots=True, eq=False)
class Garment:
    """A blank garment: the cloth's reflectance (31 bands, measured in air, 0..1), weight, fibre and shape."""

    name: str
    shape: GarmentShape
    srgb: RGB8
    lab: LAB
    reflectance: F64
    weight_g_m2: float
    cotton_share: float
    polyester_share: float
    status: InkStatus = "estimated"
    half_chest_mm: dict[str, float] = field(default_factory=dict)
    """Size name to flat chest width."""
    body_length_mm: dict[str, float] = field(default_factory=dict)
    fleece: bool = False
    """Thick cloth that creeps on the platen and takes longer to cure."""
    hood: bool = False
    """A hood hides the top of the back."""

    def __post_init__(self) -> None:
        _freeze(self.reflectance)


@dataclass(frozen=True, slots=True)
class Mesh:
    """A screen mesh by count and thread: 43-80 means 43 threads per cm of 80 µm."""

    threads_per_cm: float
    thread_um: float

    def __str__(self) -> str:
        """Return count and thread, as ``43-80``."""
        return f"{self.threads_per_cm:g}-{self.thread_um:g}"


@dataclass(frozen=True, slots=True)
class Press:
    """A press: print heads, platen size, and how far two prints may fall apart."""

    name: str
    heads: int
    platens: int
    platen_width_mm: float
    platen_height_mm: float
    register_error_mm: float
    platens_come_off: bool = False
    """A platen can be taken off with its garment on, and put back: as many garments wait as there are platens."""
    refit_mm: float = 0.3
    """How far a platen that was put back may lie from where it was (from memory)."""
    jig_mm: float = 1.0
    """How far a cured garment that is loaded again against stops may lie from where it was (from memory)."""

    @property
    def garments_held(self) -> int:
        """Garments that can wait on platens, each staying put, while screens are changed."""
        return self.platens if self.platens > 1 else 1


@dataclass(frozen=True, slots=True)
class Size:
    """The size of a print on the garment."""

    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class ArtPlate:
    """A plate that the art brings: an ink that a PDF names, or a layer of an SVG."""

    name: str
    """As the file has it, safe to show; empty for the rest of a page, which no ink is named for."""
    srgb: RGB8
    """The colour that stands in for the ink, solid."""
    coverage: U8
    """(h, w) uint8, 0 none, 255 solid."""

    def __post_init__(self) -> None:
        _freeze(self.coverage)


@dataclass(frozen=True, slots=True, eq=False)
class Artwork:
    """Artwork as read: sRGB and alpha on one pixel grid, and its size on the garment."""

    rgb: U8
    """(h, w, 3) uint8 sRGB, not premultiplied."""
    alpha: U8
    """(h, w) uint8, 255 = opaque."""
    width_mm: float
    height_mm: float
    source: str
    """File name for people."""
    vector: bool = False
    findings: tuple[Finding, ...] = ()
    plates: tuple[ArtPlate, ...] = ()
    """What it brings as plates, on the same grid; empty: it is parted by its colours."""

    def __post_init__(self) -> None:
        _freeze(self.rgb, self.alpha)

    @property
    def dpi(self) -> float:
        """Pixels per inch of the working grid at print size."""
        return float(self.rgb.shape[1]) * 25.4 / self.width_mm

    @property
    def size(self) -> Size:
        """Its size on the garment."""
        return Size(self.width_mm, self.height_mm)

    def without_colours(self) -> Artwork:
        """Return it black, which takes no memory: for who asks its grid, its alpha, its size and its words alone."""
        import numpy as np

        return replace(self, rgb=np.broadcast_to(np.zeros(3, np.uint8), self.rgb.shape))


@dataclass(frozen=True, slots=True)
class InkRequest:
    """Which inks the person asked for: nothing (auto), a count, or a list of names and colours.

    ``named`` holds (label, sRGB) pairs in the order given; label is a shelf name or the ``#hex`` itself.
    """

    count: int | None = None
    named: tuple[tuple[str, RGB8], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class InkArea:
    """One ink as the separation found it in the art."""

    srgb: RGB8
    """Colour of its areas in the art."""
    coverage: U8
    """(h, w) uint8, 0 none, 255 solid."""
    tone: Bool | None = None
    """(h, w) True where the ink is a tone to halftone; None when flat everywhere."""
    name: str = ""
    """Label from the request, else empty."""
    confidence: float = 1.0
    """0..1, share of its area explained within tolerance."""

    @property
    def asked_srgb(self) -> RGB8:
        """The colour that was asked for by its ``#rrggbb``, else that of its areas in the art."""
        return parse_hex(self.name) if self.name.startswith("#") else self.srgb

    def __post_init__(self) -> None:
        _freeze(self.coverage, self.tone)


@dataclass(frozen=True, slots=True, eq=False)
class FlatSeparation:
    """What the art asks of each ink, before base, trap and choke. Areas where no ink prints are garment."""

    areas: tuple[InkArea, ...]
    ground: RGB8
    """Garment colour the art was separated for."""
    blend_space: Literal["encoded", "linear"]
    """Space in which the art's edges were antialiased."""
    findings: tuple[Finding, ...] = ()
    unexplained: U8 | None = None
    """(h, w) how badly each pixel is explained, ΔE00 x 8 clipped to 255, or None."""
    source_px: float = 1.0
    """Pixels of the art to each of the smaller picture that it was enlarged from."""

    def __post_init__(self) -> None:
        _freeze(self.unexplained)


@dataclass(frozen=True, slots=True)
class Halftone:
    """How tones of a plate become dots."""

    lpi: float
    angle_deg: float
    shape: DotShape


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """One screen's image: what the art asks (coverage) and what is printed (printed: after trap and choke)."""

    order: int
    name: str
    role: Role
    ink: Ink
    art_srgb: RGB8 | None
    print_srgb: RGB8
    coverage: U8
    printed: U8
    tone: Bool | None
    coats: int
    flash_after: bool
    halftone: Halftone | None
    mesh: Mesh
    trap_mm: float = 0.0
    choke_mm: float = 0.0
    why: str = ""
    """One line: why it is here and has this base and these coats."""
    confidence: float = 1.0
    round: int = 1
    """Which load of the press it prints in: each round has at most as many screens as the press has heads."""
    flash_why: str = ""
    """Why its ink is flashed before the next screen; empty when it is not."""
    also_base: U8 | None = None
    """(h, w) area it is asked to be base for, its own area included, when a seen white is the base of others too."""

    @property
    def is_base(self) -> bool:
        """Whether other inks print on it."""
        return self.role == "underbase" or self.also_base is not None

    def __post_init__(self) -> None:
        _freeze(self.coverage, self.printed, self.tone, self.also_base)


@dataclass(frozen=True, slots=True, eq=False)
class Separation:
    """Plates in print order for one artwork on one garment."""

    artwork: Artwork
    garment: Garment
    plates: tuple[Plate, ...]
    mean_de00: float
    p95_de00: float
    findings: tuple[Finding, ...] = ()
