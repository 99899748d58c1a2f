"""The page of an inspection, to hang beside the press: what to do first, then what was seen.

In: screens, spots, findings and pictures as PNG bytes. Out: a Sheet of blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.sheets.blocks import (
    Block,
    Column,
    Gate,
    Notes,
    Paragraph,
    Picture,
    Pictures,
    Section,
    Sheet,
    Table,
)

if TYPE_CHECKING:
    from sepkit.model import Finding
    from sepkit.reading.spots import Spot
    from sepkit.reading.told import ToldScreen
    from sepkit.sheets.blocks import Row

MOST_ROWS = 60
SHOWN_ON = (
    "What a photograph tells was tried on simulated photographs only, not yet on real ones: look before you tape, and "
    "trust a loupe more than this page."
)


def inspection_sheet(
    *,
    title: str,
    photos: tuple[str, ...],
    screens: Sequence[ToldScreen],
    spots: Sequence[Spot],
    findings: Sequence[Finding],
    colours: tuple[tuple[str, float, float, str], ...],
    pictures: tuple[tuple[bytes, str], ...],
) -> Sheet:
    """Return the page."""
    first = [f"{one.name}: {one.move()}" for one in screens if not one.reference and not one.why]
    first += [
        f"{number}  {screens[spot.screen].name}: {spot.kind}, {spot.size_mm:.1f} mm, "
        f"{spot.x_mm:.0f} mm right, {spot.y_mm:.0f} mm down"
        for number, spot in enumerate(spots, 1)
        if spot.sure
    ][:MOST_ROWS]
    blocks: tuple[Block, ...] = (Gate("Before the next pull", tuple(first)),) if first else ()
    others = sorted((f for f in findings if f.code not in ("pinhole", "void")), key=lambda f: f.rank)
    return Sheet(
        f"Test print: {title}",
        "from " + ", ".join(photos),
        (
            Section("What to do", (*blocks, Notes(tuple(others))), at_press=False),
            Section("Screens", (_screens(screens), Paragraph(SHOWN_ON, small=True))),
            Section("Colour", _colours(colours)),
            Section("Where", (Pictures(tuple(Picture(data, caption) for data, caption in pictures)),)),
        ),
    )


def _screens(screens: Sequence[ToldScreen]) -> Table:
    rows: list[Row] = []
    for one in screens:
        told = one.dx_mm is not None and one.dy_mm is not None and not one.reference
        rows.append(
            (
                one.name,
                f"{one.dx_mm:+.2f}" if told else "",
                f"{one.dy_mm:+.2f}" if told else "",
                f"{one.turn_deg:+.2f}" if told and one.turn_deg is not None else "",
                f"± {one.band_mm:.2f}" if told else "",
                "" if one.growth_mm is None else f"{one.growth_mm * 1000:.0f} ± {one.growth_band_mm * 1000:.0f}",
                one.move(),
            )
        )
    heads = ("right, mm", "down, mm", "turn, °", "band, mm", "edges grew, µm")
    return Table(("screen", *(Column(head, "number") for head in heads), "what to do"), tuple(rows))


def _colours(colours: tuple[tuple[str, float, float, str], ...]) -> tuple[Block, ...]:
    if not colours:
        return ()
    rows: tuple[Row, ...] = tuple((name, f"{de00:.1f} ± {band:.1f}", against) for name, de00, band, against in colours)
    note = "Nothing within its band is a verdict. Without a reference chart a phone's colours are off by up to 12."
    return (Table(("screen", Column("ΔE00", "number"), "against"), rows), Paragraph(note, small=True))
