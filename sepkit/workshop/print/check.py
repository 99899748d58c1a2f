"""Artwork checked before any film is made: what stands in the way, and a picture with the places ringed.

In: the same options as a print. Out: CheckedArt with findings and the marked picture; nothing is written here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.coverage.sums import mean_share
from sepkit.model import Finding
from sepkit.plates.drafts import drafts_of
from sepkit.plates.grounds import with_coats
from sepkit.plates.screens import on_screens
from sepkit.press.preflight import Mark, Screened, preflight
from sepkit.workshop.print.findings import art_findings
from sepkit.workshop.print.ink_findings import InkFound, ink_findings
from sepkit.workshop.print.options import PrintOptions, bench_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import RGB8, U8, Artwork, FlatSeparation, Garment, Mesh, Progress
    from sepkit.plates.drafts import PlateDraft


@dataclass(frozen=True, slots=True)
class CheckedInk:
    """One ink found in the art; ``share`` is its coverage of the whole area, 0..1."""

    name: str
    srgb: RGB8
    share: float
    mesh: Mesh


@dataclass(frozen=True, slots=True, eq=False)
class CheckedArt:
    """What the check found. ``marked`` is the art on the garment with the places ringed, (h, w, 3) uint8."""

    artwork: Artwork
    garment: Garment
    inks: tuple[CheckedInk, ...]
    findings: tuple[Finding, ...]
    marks: tuple[Mark, ...]
    marked: U8

    @property
    def worst(self) -> Finding | None:
        """What would ruin the print, if anything."""
        return next((finding for finding in self.findings if finding.level == "error"), None)


def check_art(options: PrintOptions, *, progress: Progress | None = None) -> CheckedArt:
    """Read and separate the art, and check it against mesh and press. Raises as ``plan_print`` does."""
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.preview.marked import marked_picture
    from sepkit.workshop.print.plan import read_art, separated

    bench = bench_of(options, Shelf())
    garment = bench.garment
    art, flat, bench = separated(read_art(options), options, bench, progress=progress)
    areas = [area for area in flat.areas if area.coverage.any()]
    rows = with_coats(drafts_of(areas, bench), bench) if areas else []
    on = on_screens(rows, bench, art.size, dpi=art.dpi).rows
    found = preflight(
        [Screened(area, row.name, row.mesh) for area, row in zip(areas, on, strict=True)],
        press=bench.press,
        bases=int(any(row.based for row in rows) and not bench.wishes.as_brought),
        dpi=art.dpi,
        measured=bench.measured,
    )
    told = ink_findings(
        [InkFound(r.name, a.srgb, a.coverage, a.tone is not None) for r, a in zip(on, areas, strict=True)], art, garment
    )
    waves = _halftones(on, film_dpi=options.film_dpi)
    findings = (
        *flat.findings,
        *art_findings(art),
        *told,
        *found.findings,
        *waves,
        *_empty(flat, garment),
    )
    inks = tuple(
        CheckedInk(row.name, area.srgb, mean_share(area.coverage), row.mesh)
        for row, area in zip(on, areas, strict=True)
    )
    marked = marked_picture(art, garment.srgb, [(mark.kind, mark.box_mm) for mark in found.marks])
    return CheckedArt(art, garment, inks, findings, found.marks, marked)


def _halftones(rows: Sequence[PlateDraft], *, film_dpi: float) -> tuple[Finding, ...]:
    """Return what rulings and meshes of the tones ask: grey levels, smallest dots, waves with the threads."""
    from sepkit.press.mesh import halftone_findings
    from sepkit.press.moire import moire_findings

    found: list[Finding] = []
    for row in rows:
        if row.halftone is not None:
            found += halftone_findings(row.halftone, row.mesh, dpi=film_dpi, plate=row.name)
            found += moire_findings(row.halftone, row.mesh, plate=row.name)
    return tuple(found)


def _empty(flat: FlatSeparation, garment: Garment) -> tuple[Finding, ...]:
    if any(area.coverage.any() for area in flat.areas):
        return ()
    return (
        Finding(
            "nothing-to-print",
            "error",
            f"nothing is left to print on {garment.name}",
            "it is transparent or has the garment's colour: choose another garment",
        ),
    )
