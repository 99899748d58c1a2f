"""What an inspection means for the run: what to tape, move, wash out again, and what could not be judged.

An error is what would ruin the run: a hole or a void that is sure, a screen off by more than the press allows for.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.reading.edges import Lines
    from sepkit.reading.spots import Spot, Spots
    from sepkit.reading.told import ToldScreen

AGAIN = "look at its discs and edges through a loupe, or photograph them again, flat and sharp"
"""What to do about a screen whose check discs tell nothing."""
DISCS = "photograph the print with its check discs open; films made with --check-discs have them"
"""The same where none was read: the films have none, or they are taped off."""
LARGE_GROWTH_MM = 0.12
LEAST_BARE_MM2 = 2.0
MOST_DOUBTFUL = 0.3
MOST_TOLD = 12


def inspection_findings(
    screens: Sequence[ToldScreen],
    spots: Sequence[Spot],
    lines: Sequence[Lines],
    judged: Sequence[Spots],
    bare_mm2: float | None,
    allowed_mm: float,
) -> tuple[Finding, ...]:
    """Return the findings; ``allowed_mm`` is how far prints of this press fall apart, which traps and chokes cover."""
    return (
        *_register(screens, allowed_mm),
        *_spots(screens, spots),
        *_edges(screens, lines[0]),
        *_bare(bare_mm2),
        *_limits(judged),
    )


def _register(screens: Sequence[ToldScreen], allowed_mm: float) -> list[Finding]:
    out = []
    for one in screens:
        if one.reference:
            continue
        if one.why:
            text = f"{one.name}: register cannot be told: {one.why}"
            hint = AGAIN if any(other.discs for other in screens) else DISCS
            out.append(Finding("register-not-told", "warn", text, hint))
        elif one.off_mm > allowed_mm + one.band_mm:
            text = f"{one.name} lies {one.off_mm:.2f} mm off, more than the {allowed_mm:g} mm that trap and choke cover"
            out.append(Finding("off-register", "error", text, f"{one.name}: {one.move()}"))
    return out


def _spots(screens: Sequence[ToldScreen], spots: Sequence[Spot]) -> list[Finding]:
    out = []
    words = {
        "pinhole": ("ink where the film is clear", "block it on the screen, or tape it"),
        "void": ("no ink where the film is black", "wash it out, wipe the mesh, look for lint"),
    }
    for spot in [one for one in spots if one.sure][:MOST_TOLD]:
        what, hint = words[spot.kind]
        at = (round(spot.x_mm, 1), round(spot.y_mm, 1))
        name = screens[spot.screen].name
        text = f"{name}: {spot.kind} of {spot.size_mm:.1f} mm, {what}, {at[0]} mm right and {at[1]} mm down"
        out.append(Finding(spot.kind, "error", text, hint, at))
    sure = sum(spot.sure for spot in spots)
    if sure > MOST_TOLD:
        text = f"and {sure - MOST_TOLD} more spots, in the list"
        out.append(
            Finding("more-spots", "error", text, "many small ones in a row are an edge that grew or did not hold")
        )
    return out


def _edges(screens: Sequence[ToldScreen], lines: Lines) -> list[Finding]:
    out = []
    for k, one in enumerate(screens):
        mine = [lost for lost in lines.lost if lost.screen == k]
        if mine:
            worst = max(mine, key=lambda lost: lost.area_mm2)
            area = sum(lost.area_mm2 for lost in mine)
            text = f"{one.name}: thin lines did not hold, {area:.1f} mm² in {len(mine)} places"
            hint = "expose longer or wash out softer; thicken the lines, or take a finer mesh"
            out.append(Finding("lost-lines", "warn", text, hint, (round(worst.x_mm, 1), round(worst.y_mm, 1))))
        if one.growth_mm is not None and one.growth_mm > LARGE_GROWTH_MM:
            text = f"{one.name}: its edges grew by {one.growth_mm * 1000:.0f} µm"
            out.append(Finding("grown-edges", "warn", text, "less pressure, a sharper blade, or one stroke less"))
    return out


def _bare(bare_mm2: float | None) -> list[Finding]:
    if bare_mm2 is None or bare_mm2 < LEAST_BARE_MM2:
        return []
    text = f"base peeks out beside the inks, {bare_mm2:.0f} mm² more than planned"
    return [Finding("bare-base", "warn", text, "bring the screens on register first; choke the base more if it stays")]


def _limits(judged: Sequence[Spots]) -> list[Finding]:
    out = []
    doubtful = max(one.doubtful for one in judged)
    if doubtful > MOST_DOUBTFUL:
        text = f"{doubtful:.0%} of the print does not lie as its edges should: spots there are unsure"
        out.append(Finding("not-judged", "warn", text, "smooth the cloth, and photograph it again"))
    toned = max(one.toned for one in judged)
    if toned > 0:
        text = f"{toned:.0%} of the art is halftone, where no spots are told"
        out.append(Finding("halftone-not-judged", "info", text, "look at halftones by eye"))
    return out
