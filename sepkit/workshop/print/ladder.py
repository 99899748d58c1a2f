"""The ladder: for 1, 2, ... inks, how far the print would be from the art and what is lost.

In: a planned print with inks chosen freely. Out: a rung for each number of inks, with its predicted colour.
Everything is computed on a picture averaged down to RUNG_PX, through the same decisions as the print itself but
without trap and choke. Flat inks join as the separation joins them; art with tones is separated again for each number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import distinct_words
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.sums import any_ink
from sepkit.decisions import BaseRules
from sepkit.model import Finding, InkArea, InkRequest, Mesh
from sepkit.plates.fewer import joined
from sepkit.plates.overprint_plan import decide_plates
from sepkit.plates.smaller import smaller, smaller_areas, smaller_art
from sepkit.preview.difference import FAR_DE00, Difference, difference_stats
from sepkit.preview.seen import art_seen, factor_for
from sepkit.preview.stack import printed_rgb
from sepkit.separation.separate import separate

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Bool, Size
    from sepkit.workshop.print.plan import PlannedPrint

RUNG_PX = 480
TONE_RUNG_PX = 220
"""Tones are solved pixel by pixel: a smaller picture keeps the ladder within seconds."""
KNEE_GAIN_DE00 = 1.0
"""A further ink pays while it takes this much off the mean ΔE00, about what is just seen."""
MOST_RUNGS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Rung:
    """A print with this many inks: its screens and rounds, how far it is from the art, what is lost, a picture."""

    inks: int
    colours: tuple[RGB8, ...]
    """Inks as printed, in print order, the base left out."""
    screens: int
    rounds: int
    difference: Difference
    lost: tuple[str, ...]
    picture: U8

    def figures(self) -> str:
        """Return mean, 95th percentile and far share in words."""
        d = self.difference
        return f"ΔE00 {d.mean_de00:.1f} on average, {d.p95_de00:.1f} or less on 95 %, {100 * d.far_share:.0f} % above 5"


@dataclass(frozen=True, slots=True, eq=False)
class Ladder:
    """Rungs from one ink up; the last is the print as planned."""

    rungs: tuple[Rung, ...]
    heads: int
    art: U8
    """The art on the garment, at the rungs' size."""

    @property
    def knee(self) -> Rung:
        """The first rung after which no further ink takes KNEE_GAIN_DE00 off the mean."""
        for at, rung in enumerate(self.rungs):
            best = min(r.difference.mean_de00 for r in self.rungs[at:])
            if rung.difference.mean_de00 - best < KNEE_GAIN_DE00:
                return rung
        return self.rungs[-1]

    @property
    def within_heads(self) -> Rung | None:
        """The knee of those rungs whose screens all fit the heads; None when none does."""
        fitting = [rung for rung in self.rungs if rung.screens <= self.heads]
        return Ladder(tuple(fitting), self.heads, self.art).knee if fitting else None


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The art as it is seen on the garment, at the rungs' size, and where it is."""

    size: Size
    on_garment: U8
    there: Bool


def ladder_of(planned: PlannedPrint) -> Ladder | None:
    """Return the ladder of a print whose inks were chosen freely; None for one ink, or where they were named."""
    areas, wishes = planned.areas, planned.bench.wishes
    if wishes.inks != InkRequest() or wishes.as_brought or not 2 <= len(areas) <= MOST_RUNGS:
        return None
    toned = any(area.tone is not None for area in areas)
    whole = planned.separation.artwork
    most_px = TONE_RUNG_PX if toned else RUNG_PX
    factor = factor_for((whole.alpha.shape[0], whole.alpha.shape[1]), most_px)
    small = smaller_areas(areas, factor)
    on_garment = art_seen(whole.rgb, whole.alpha, planned.separation.garment.srgb, factor=factor)
    seen = _Seen(whole.size, on_garment, smaller(whole.alpha, factor) > 0)
    art = smaller_art(whole, factor) if toned else whole
    rungs = []
    for count in range(1, len(areas) + 1):
        if count == len(areas):
            found: tuple[InkArea, ...] = small
        elif toned:
            found = separate(art, planned.flat.ground, InkRequest(count=count), soft=planned.options.soft).areas
        else:
            found = joined(small, planned.flat.ground, count)
        found = tuple(area for area in found if area.coverage.any())
        if found:
            rungs.append(_rung(planned, seen, found, small))
    return Ladder(tuple(rungs), planned.bench.press.heads, seen.on_garment)


def ladder_finding(ladder: Ladder) -> Finding | None:
    """Return what fewer inks would cost, when the print has more screens than the press has heads."""
    full = ladder.rungs[-1]
    if full.screens <= ladder.heads:
        return None
    rung = ladder.within_heads
    if rung is None:
        return Finding(
            "fewer-inks",
            "info",
            f"no number of inks fits {ladder.heads} heads on this garment",
            "see ladder.png",
        )
    inks = "1 ink fits" if rung.inks == 1 else f"{rung.inks} inks fit"
    screens = "1 screen" if rung.screens == 1 else f"{rung.screens} screens"
    lost = f"; {', '.join(rung.lost)}" if rung.lost else ""
    return Finding(
        "fewer-inks",
        "info",
        f"{inks} the {ladder.heads} heads ({screens}): {rung.figures()}{lost}",
        f"all {full.inks} inks: {full.figures()}; see ladder.png, and --inks {rung.inks} to choose it",
    )


def _rung(planned: PlannedPrint, seen: _Seen, areas: tuple[InkArea, ...], full: Sequence[InkArea]) -> Rung:
    bench = planned.bench
    # Colour is all that counts here: no traps, and one mesh, so that no stroke need be measured for its own. A base
    # rule for one ink has no meaning where that ink is gone.
    wishes = replace(
        bench.wishes, trap_mm=0.0, choke_mm=0.0, mesh=Mesh(62, 60), base=BaseRules(bench.wishes.base.every)
    )
    plan = decide_plates(areas, seen.size, replace(bench, wishes=wishes, frames=()))
    printed = printed_rgb(plan.plates, bench.garment)
    where = any_ink([plate.printed for plate in plan.plates]) | seen.there
    return Rung(
        len(areas),
        tuple(p.print_srgb for p in plan.plates if p.role != "underbase"),
        len(plan.plates),
        len(plan.rounds.rounds),
        difference_stats(seen.on_garment, printed, where=where),
        _lost(full, areas),
        printed,
    )


def _lost(full: Sequence[InkArea], kept: Sequence[InkArea]) -> tuple[str, ...]:
    """Return which inks of the full print have no near one here, largest first, and which stands in for each."""
    if len(kept) >= len(full):
        return ()
    here = srgb8_to_lab(np.array([area.srgb for area in kept], np.uint8))
    names = distinct_words([area.srgb for area in full])
    covers = [float(area.coverage.mean()) for area in full]
    total = max(sum(covers), 1e-9)
    out = []
    for at in sorted(range(len(full)), key=lambda k: -covers[k]):
        away = delta_e_2000(srgb8_to_lab(np.array(full[at].srgb, np.uint8))[None], here)
        if float(away.min()) > FAR_DE00:
            out.append(f"{names[at]} is lost ({100 * covers[at] / total:.0f} % of the ink)")
    return tuple(out)
