"""How much ink to stage, and how much comes back.

In: the runs of a job and what each screen holds. Out: grams for each ink with the parts of the sum.

Grams per hit = inked area (cm2) x mesh volume (cm3/m2) / 10 000 x density (g/ml) x factor. The mesh volume is the open
area times the thickness of the weave; the factor is 1 on a tee and 1.3 on fleece until prints have been weighed (from
memory). A screen prints only when it is loaded with a bead along the whole blade, 3 cm2 in section (from memory), most
of which is carded back. Densities and recoveries are common practice, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
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
class Staging:
    """What holds for all inks of a job."""

    kind: InkKind
    factor: float = 1.0
    """The weighed over the computed ink."""
    custom: frozenset[str] = frozenset()
    """Inks that are mixed for this job."""
    on_shelf_g: Mapping[str, float] = field(default_factory=dict)
    """What cups of earlier jobs still hold, by the ink's name in lower case."""


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


def ink_needs(hits: Iterable[Hits], loadings: Iterable[Loading], staging: Staging) -> tuple[InkNeed, ...]:
    """Return what each ink needs, in the order in which the inks first print."""
    hits, loadings = list(hits), list(loadings)
    return tuple(
        _need(ink, [h for h in hits if h.ink == ink], [l for l in loadings if l.ink == ink], staging)
        for ink in dict.fromkeys(hit.ink for hit in hits)
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


def _need(ink: str, hits: list[Hits], loadings: list[Loading], staging: Staging) -> InkNeed:
    recovered, custom = RECOVERED[staging.kind], ink in staging.custom
    prints, first_pulls = _prints(hits, staging.factor), _first_pulls(hits, staging.factor)
    printed, tests = sum(part.mass_g for part in prints), sum(part.mass_g for part in first_pulls)
    loads = [loading.grams for loading in loadings]
    largest = max(loads, default=0.0)
    lost, back = (1.0 - recovered) * sum(loads), recovered * largest
    need = printed + tests + lost + back + CUP_LOSS_G
    stage = round_up_g(max(need, LEAST_CUSTOM_G) if custom else need)
    parts = (
        *prints,
        *first_pulls,
        *(_left_in_screen(loading, recovered) for loading in loadings),
        InkPart("cup and spatula", "per ink", CUP_LOSS_G),
        InkPart("screen load, comes back", f"{recovered:.0%} of the largest load, {largest:.0f} g", back),
        InkPart("rounded up, comes back", "to what is weighed out", stage - need),
    )
    back += stage - need  # what is rounded up comes back too
    used_shelf = min(staging.on_shelf_g.get(ink.lower(), 0.0), stage)
    return InkNeed(ink, printed, tests, lost + CUP_LOSS_G, back, stage, used_shelf, stage - used_shelf, custom, parts)


def _prints(hits: Sequence[Hits], factor: float) -> list[InkPart]:
    return [
        InkPart(
            f"{hit.image}, {hit.pieces} pieces",
            _formula(hit, factor),
            hit.grams_per_hit(factor) * hit.coats * hit.pieces,
        )
        for hit in hits
    ]


def _first_pulls(hits: Sequence[Hits], factor: float) -> list[InkPart]:
    """Return the first pulls on test cloth, once for each image as its first garment takes it."""
    return [
        InkPart(
            f"{hit.image}, first pulls",
            f"{TEST_PULLS} pulls on test cloth",
            hit.grams_per_hit(factor) * hit.coats * TEST_PULLS,
        )
        for hit in {hit.image: hit for hit in reversed(hits)}.values()
    ]


def _left_in_screen(loading: Loading, recovered: float) -> InkPart:
    return InkPart(
        f"{loading.image}, left in the screen",
        f"{BEAD_CM2:g} cm² x {loading.blade_mm / 10:g} cm x {loading.density_g_ml:.2f} g/ml x {1 - recovered:.0%}",
        loading.grams * (1.0 - recovered),
    )


def _formula(hit: Hits, factor: float) -> str:
    volume = ink_volume_cm3_m2(hit.mesh)
    k = factor * (FLEECE_FACTOR if hit.fleece else 1.0)
    coats = f" x {hit.coats} coats" if hit.coats > 1 else ""
    return (
        f"{hit.inked_cm2:.1f} cm² x {volume:.1f} cm³/m² x {hit.density_g_ml:.2f} g/ml x {k:.2f}"
        f" = {hit.grams_per_hit(factor):.2f} g{coats} x {hit.pieces}"
    )
