"""How much ink to stage, and how much comes back.

In: the runs of a job and what each screen holds. Out: grams for each ink with the parts of the sum.

Grams per hit = inked area (cm2) x mesh volume (cm3/m2) / 10 000 x density (g/ml) x factor. The mesh volume is the open
area times the thickness of the weave; the factor is 1 on a tee and 1.3 on fleece until prints have been weighed (from
memory). A screen prints only when it is loaded with a bead along the whole blade, 3 cm2 in section (from memory), most
of which is carded back. Densities and recoveries are common practice, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sepkit.press.mesh import ink_volume_cm3_m2

if TYPE_CHECKING:
    from sepkit.jobs import InkKind
    from sepkit.model import Mesh

BEAD_CM2 = 3.0
FLEECE_FACTOR = 1.3
CUP_LOSS_G = 5.0
LEAST_CUSTOM_G = 40.0
"""A mixed ink is made in at least this much: less cannot be weighed or stirred well (from memory)."""
TEST_PULLS = 4
"""First pulls on test cloth for each screen image (common practice: 3 to 6)."""
RECOVERED: dict[str, float] = {"plastisol": 0.90, "water-based": 0.70, "high-solids": 0.70, "discharge": 0.0}
"""Share of the screen load that can be carded back (from memory). Activated discharge ink does not keep."""


@dataclass(frozen=True, slots=True)
class Hits:
    """One screen image printed on one kind of garment."""

    image: str
    ink: str
    density_g_ml: float
    mesh: Mesh
    inked_cm2: float
    coats: int
    pieces: int
    """Garments printed, spares and tests with them."""
    fleece: bool = False

    def grams_per_hit(self, factor: float) -> float:
        """Return the ink of one coat on one garment; ``factor`` is the weighed over the computed ink."""
        return grams_per_hit(self.inked_cm2, self.mesh, self.density_g_ml, factor=self._factor(factor))

    def _factor(self, factor: float) -> float:
        return factor * (FLEECE_FACTOR if self.fleece else 1.0)


@dataclass(frozen=True, slots=True)
class Loading:
    """Ink put into one screen for one image: the blade decides how much."""

    image: str
    ink: str
    density_g_ml: float
    blade_mm: float

    @property
    def grams(self) -> float:
        """Ink that must lie in the screen."""
        return BEAD_CM2 * self.blade_mm / 10.0 * self.density_g_ml


@dataclass(frozen=True, slots=True)
class InkPart:
    """One term of the sum."""

    what: str
    formula: str
    mass_g: float


@dataclass(frozen=True, slots=True)
class InkNeed:
    """One ink of the job, in g: used on cloth, lost on the way, back in the pot, and what to stage."""

    ink: str
    printed_g: float
    tests_g: float
    lost_g: float
    back_g: float
    stage_g: float
    on_shelf_g: float
    to_mix_g: float
    custom: bool
    parts: tuple[InkPart, ...] = field(default=())

    @property
    def used_g(self) -> float:
        """What does not come back."""
        return self.printed_g + self.tests_g + self.lost_g


def grams_per_hit(inked_cm2: float, mesh: Mesh, density_g_ml: float, *, factor: float = 1.0) -> float:
    """Return the grams of one coat of one print."""
    return inked_cm2 * ink_volume_cm3_m2(mesh) / 10_000.0 * density_g_ml * factor


def ink_needs(
    hits: Iterable[Hits],
    loadings: Iterable[Loading],
    *,
    kind: InkKind,
    factor: float,
    custom: frozenset[str] = frozenset(),
    on_shelf_g: dict[str, float] | None = None,
) -> tuple[InkNeed, ...]:
    """Return what each ink needs, in the order in which the inks first print.

    ``custom`` names inks that are mixed for this job; ``on_shelf_g`` is what cups of earlier jobs still hold.
    """
    hits, loadings = list(hits), list(loadings)
    shelf = on_shelf_g or {}
    inks = dict.fromkeys(hit.ink for hit in hits)
    return tuple(
        _need(
            ink,
            [h for h in hits if h.ink == ink],
            [l for l in loadings if l.ink == ink],
            kind,
            factor,
            ink in custom,
            shelf.get(ink.lower(), 0.0),
        )
        for ink in inks
    )


def round_up_g(mass_g: float) -> float:
    """Return the smaller of the next full 10 g and 10 % more, as a whole gram: what a person weighs out."""
    return float(math.ceil(round(min(math.ceil(mass_g / 10.0) * 10.0, mass_g * 1.1), 6)))


def presses_needed(print_mm: tuple[float, float], plate_mm: tuple[float, float], overlap_mm: float) -> int:
    """Return how many closings of the heat press cover a print, the plate turned whichever way needs fewer.

    >>> presses_needed((380, 420), (380, 380), 40)
    2
    """
    ways = []
    for plate_w, plate_h in (plate_mm, plate_mm[::-1]):
        ways.append(_steps(print_mm[0], plate_w, overlap_mm) * _steps(print_mm[1], plate_h, overlap_mm))
    return min(ways)


def _steps(length: float, plate: float, overlap: float) -> int:
    if length <= plate:
        return 1
    # A plate smaller than its overlap would never get across: it then goes edge to edge.
    return 1 + math.ceil((length - plate) / (plate - overlap if plate > overlap else plate) - 1e-9)


def _need(
    ink: str, hits: list[Hits], loadings: list[Loading], kind: InkKind, factor: float, custom: bool, shelf_g: float
) -> InkNeed:
    recovered = RECOVERED[kind]
    parts: list[InkPart] = []
    printed = tests = 0.0
    for hit in hits:
        each = hit.grams_per_hit(factor)
        total = each * hit.coats * hit.pieces
        printed += total
        parts.append(InkPart(f"{hit.image}, {hit.pieces} pieces", _formula(hit, factor), total))
    for hit in {hit.image: hit for hit in reversed(hits)}.values():
        pulls = hit.grams_per_hit(factor) * hit.coats * TEST_PULLS
        tests += pulls
        parts.append(InkPart(f"{hit.image}, first pulls", f"{TEST_PULLS} pulls on test cloth", pulls))
    loads = [loading.grams for loading in loadings]
    largest = max(loads, default=0.0)
    lost = (1.0 - recovered) * sum(loads)
    back = recovered * largest
    parts += [
        InkPart(
            f"{loading.image}, left in the screen",
            f"{BEAD_CM2:g} cm² x {loading.blade_mm / 10:g} cm x {loading.density_g_ml:.2f} g/ml x {1 - recovered:.0%}",
            loading.grams * (1.0 - recovered),
        )
        for loading in loadings
    ]
    parts.append(InkPart("cup and spatula", "per ink", CUP_LOSS_G))
    parts.append(InkPart("screen load, comes back", f"{recovered:.0%} of the largest load, {largest:.0f} g", back))
    need = printed + tests + lost + back + CUP_LOSS_G
    stage = round_up_g(max(need, LEAST_CUSTOM_G) if custom else need)
    # What is rounded up comes back too.
    back += stage - need
    parts.append(InkPart("rounded up, comes back", "to what is weighed out", stage - need))
    used_shelf = min(shelf_g, stage)
    to_mix = stage - used_shelf
    return InkNeed(ink, printed, tests, lost + CUP_LOSS_G, back, stage, used_shelf, to_mix, custom, tuple(parts))


def _formula(hit: Hits, factor: float) -> str:
    volume = ink_volume_cm3_m2(hit.mesh)
    k = factor * (FLEECE_FACTOR if hit.fleece else 1.0)
    coats = f" x {hit.coats} coats" if hit.coats > 1 else ""
    return (
        f"{hit.inked_cm2:.1f} cm² x {volume:.1f} cm³/m² x {hit.density_g_ml:.2f} g/ml x {k:.2f}"
        f" = {hit.grams_per_hit(factor):.2f} g{coats} x {hit.pieces}"
    )
