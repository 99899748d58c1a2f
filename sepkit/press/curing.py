"""Cure and flash plan for a kind of ink on a cloth: ranges to start from, and what must not be done.

In: ink kind, garments, heat press, print size. Out: lines with ranges and findings. Temperatures are of the ink film,
by common practice of data sheets and trade guides, which differ by product: the ink's data sheet decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, HeatPress, InkKind
    from sepkit.model import Garment


@dataclass(frozen=True, slots=True)
class Cure:
    """Film temperatures in °C and times in s, each as (from, to)."""

    flash_c: tuple[int, int] | None
    film_c: tuple[int, int]
    seconds: tuple[int, int]
    press_c: tuple[int, int]
    press_s: tuple[int, int]
    note: str


CURES: dict[str, Cure] = {
    "plastisol": Cure(
        (80, 120),
        (138, 166),
        (30, 90),
        (165, 190),
        (20, 40),
        "gel first; hover 10-20 s, then light pressure through a release sheet; heat must reach the bottom of the film",
    ),
    "water-based": Cure(
        None,
        (150, 160),
        (120, 180),
        (160, 180),
        (60, 90),
        "dry to the touch first; let the steam out between two closings",
    ),
    "high-solids": Cure((70, 100), (150, 160), (90, 180), (160, 175), (45, 90), "dry to the touch between coats"),
    "discharge": Cure(None, (150, 165), (60, 120), (160, 175), (60, 90), "needs moving air and extraction; wash first"),
}
MIGRATION_C = 130.0
"""Above this, dyes of polyester move into the ink (reports from 129 to 165 °C: treat as specific to the cloth)."""
SCORCH_C = 190.0
SOME_POLYESTER, MUCH_POLYESTER = 0.2, 0.5
DARK_L = 50.0


def cure_lines(kind: InkKind, heat_press: HeatPress, *, presses: int, fleece: bool) -> list[str]:
    """Return the cure plan in words."""
    cure = CURES[kind]
    lines = []
    if cure.flash_c:
        lines.append(f"Flash until touch-dry, about {_span(cure.flash_c)} °C at the surface; let it cool 10-15 s.")
    lines.append(
        f"Cure: the whole ink film to {_span(cure.film_c)} °C, {_span(cure.seconds)} s by its data sheet; {cure.note}."
    )
    lines.append(
        f"Heat press: you set {heat_press.set_c:g} °C and {heat_press.seconds:g} s; usual are "
        f"{_span(cure.press_c)} °C and {_span(cure.press_s)} s. Measure in the ink with strips or a probe."
    )
    if presses > 1:
        lines.append(
            f"{presses} closings for the largest print on a plate of {heat_press.plate_width_mm:g} x "
            f"{heat_press.plate_height_mm:g} mm, overlapping {heat_press.overlap_mm:g} mm."
        )
    if fleece:
        lines.append("Fleece: press 5-10 s before printing to drive moisture out, and a second cycle for the cure.")
    return lines


def cure_findings(
    kind: InkKind, heat_press: HeatPress, wearers: Sequence[tuple[GarmentLine, Garment]]
) -> list[Finding]:
    """Return what the heat or the ink does to these garments."""
    out: list[Finding] = []
    low, high = CURES[kind].press_c
    if heat_press.set_c > SCORCH_C + 5:
        out.append(
            Finding(
                "scorch",
                "warn",
                f"heat press at {heat_press.set_c:g} °C: cotton scorches from about 190 °C",
                "set it lower and press longer",
            )
        )
    if heat_press.set_c < low - 35:
        out.append(
            Finding(
                "under-cure",
                "warn",
                f"heat press at {heat_press.set_c:g} °C; {kind} ink takes {low} to {high}",
                "right for low-cure ink only: see its data sheet, wash-test",
            )
        )
    for line, garment in wearers:
        out += _garment_findings(kind, heat_press, line, garment)
    return out


def _garment_findings(kind: InkKind, heat_press: HeatPress, line: GarmentLine, garment: Garment) -> list[Finding]:
    out: list[Finding] = []
    share = garment.polyester_share
    hot = heat_press.set_c >= MIGRATION_C
    if share >= MUCH_POLYESTER and hot:
        out.append(
            Finding(
                "polyester-hot-cure",
                "error",
                f"{garment.name}, {share:.0%} polyester: at {heat_press.set_c:g} °C dye moves into the ink",
                "low-cure ink below 130 °C, blocking base; test two days",
                more="it shows within days; every dye lot differs",
            )
        )
    elif share >= SOME_POLYESTER and hot and garment.lab[0] < DARK_L:
        out.append(
            Finding(
                "polyester-in-cloth",
                "warn",
                f"{garment.name}, {share:.0%} polyester: at {heat_press.set_c:g} °C dye may move into ink",
                "cure as low as the data sheet allows; wait two days",
                more="dark dye moves into light ink; look again before the run is sent",
            )
        )
    if kind == "discharge":
        if line.children:
            out.append(
                Finding(
                    "children-discharge",
                    "error",
                    f"{garment.name}: discharge ink on children's wear",
                    "use another ink: the usual activator gives off formaldehyde",
                )
            )
        if garment.cotton_share < 0.99:
            out.append(
                Finding(
                    "discharge-needs-cotton",
                    "error",
                    f"{garment.name} is {garment.cotton_share:.0%} cotton",
                    "discharge ink works on cotton dyed for it only",
                )
            )
        out.append(
            Finding(
                "discharge-fumes",
                "warn",
                f"{garment.name}: discharge ink needs extraction that a home room seldom has",
                "see the safety data sheet first; wash before wear",
            )
        )
    if line.children:
        out.append(
            Finding(
                "children",
                "warn",
                f"{garment.name} is children's wear: stricter rules for prints, cords and labels",
                "ask the ink maker for a statement; read your country's rules",
            )
        )
    return out


def _span(pair: tuple[int, int]) -> str:
    return f"{pair[0]}-{pair[1]}"
