"""Artwork checked before any film is made: what stands in the way, and a picture with the places ringed.

In: the same options as a print. Out: CheckedArt with findings and the marked picture; nothing is written here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import distinct_words
from sepkit.model import Finding
from sepkit.plates.drafts import drafts_of
from sepkit.plates.grounds import with_coats
from sepkit.plates.screens import dots_of, mesh_of
from sepkit.press.preflight import Mark, Screened, preflight
from sepkit.workshop.print.findings import art_findings
from sepkit.workshop.print.ink_findings import InkFound, ink_findings
from sepkit.workshop.print.options import PrintOptions, bench_of

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, FlatSeparation, Garment, Mesh, Progress
    from sepkit.plates.bench import Bench


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
    from sepkit.files.art.artwork import read_artwork
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.preview.marked import marked_picture
    from sepkit.separation.background import without_background
    from sepkit.separation.redrawn import redraw_findings
    from sepkit.separation.separate import separate

    bench = bench_of(options, Shelf())
    garment = bench.garment
    art = read_artwork(options.art, width_mm=options.width_mm, height_mm=options.height_mm, film_dpi=options.film_dpi)
    flat = separate(art, garment.srgb, bench.wishes.inks, soft=options.soft, on_step=progress)
    if options.background == "drop":
        flat = without_background(flat)
    names = distinct_words([area.srgb for area in flat.areas])
    names = [area.name or name for area, name in zip(flat.areas, names, strict=True)]
    meshes = [mesh_of(area.srgb, bench, has_tone=area.tone is not None) for area in flat.areas]
    bases = int(any(row.based for row in with_coats(drafts_of(flat.areas, bench), bench)))
    found = preflight(
        [Screened(area, name, mesh) for area, name, mesh in zip(flat.areas, names, meshes, strict=True)],
        press=bench.press,
        bases=bases,
        dpi=art.dpi,
        measured=bench.measured,
    )
    waves = _halftones(flat, names, meshes, bench, film_dpi=options.film_dpi)
    told = ink_findings(
        [InkFound(n, a.srgb, a.coverage, a.tone is not None) for n, a in zip(names, flat.areas, strict=True)],
        art,
        garment,
    )
    findings = (
        *art_findings(art),
        *flat.findings,
        *redraw_findings(art, flat),
        *told,
        *found.findings,
        *waves,
        *_empty(flat, garment),
    )
    inks = tuple(
        CheckedInk(name, area.srgb, float(area.coverage.mean()) / 255, mesh)
        for name, area, mesh in zip(names, flat.areas, meshes, strict=True)
    )
    marked = marked_picture(art, garment.srgb, [(mark.kind, mark.place_mm) for mark in found.marks])
    return CheckedArt(art, garment, inks, findings, found.marks, marked)


def _halftones(
    flat: FlatSeparation, names: list[str], meshes: list[Mesh], bench: Bench, *, film_dpi: float
) -> tuple[Finding, ...]:
    """Return what rulings and meshes of the tones ask: grey levels, smallest dots, waves with the threads."""
    from sepkit.press.mesh import halftone_findings
    from sepkit.press.moire import moire_findings

    found: list[Finding] = []
    toned = [i for i, area in enumerate(flat.areas) if area.tone is not None]
    for nth, i in enumerate(toned):
        dots = dots_of(meshes[i], bench, nth=nth)
        found += halftone_findings(dots, meshes[i], dpi=film_dpi, plate=names[i])
        found += moire_findings(dots, meshes[i], plate=names[i])
    return tuple(found)


def _empty(flat: FlatSeparation, garment: Garment) -> tuple[Finding, ...]:
    if any(area.coverage.any() for area in flat.areas):
        return ()
    return (
        Finding(
            "nothing-to-print",
            "error",
            f"nothing is left to print on {garment.name}",
            "all of the art is transparent or has the garment's own colour: choose another garment or change the art",
        ),
    )
