"""Artwork checked before any film is made: what stands in the way, and a picture with the places ringed.

In: the same options as a print. Out: CheckedArt with findings and the marked picture; nothing is written here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.names import distinct_words
from sepkit.model import Finding, Halftone
from sepkit.press.preflight import Mark, Screened, preflight
from sepkit.workshop.print.decide import DARK_L, WHITE_L, choices_for
from sepkit.workshop.print.findings import art_findings
from sepkit.workshop.print.ink_findings import InkFound, ink_findings
from sepkit.workshop.print.options import PrintOptions, ink_request

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, FlatSeparation, Garment, Mesh, Progress


@dataclass(frozen=True, slots=True, eq=False)
class CheckedArt:
    """What the check found. ``marked`` is the art on the garment with the places ringed, (h, w, 3) uint8."""

    artwork: Artwork
    garment: Garment
    inks: tuple[tuple[str, tuple[int, int, int], float, Mesh], ...]
    """Name, colour, coverage share 0..1 and mesh, for each ink found."""
    findings: tuple[Finding, ...]
    marks: tuple[Mark, ...]
    marked: U8


def check_art(options: PrintOptions, *, progress: Progress | None = None) -> CheckedArt:
    """Read and separate the art, and check it against mesh and press. Raises as ``plan_print`` does."""
    from sepkit.files.art.artwork import read_artwork
    from sepkit.files.shelf.pressfile import measured_of
    from sepkit.files.shelf.recipes import find_garment, find_press
    from sepkit.preview.marked import marked_picture
    from sepkit.separation.background import without_background
    from sepkit.separation.separate import separate

    garment, press = find_garment(options.garment), find_press(options.press)
    request = ink_request(options.inks)
    art = read_artwork(options.art, width_mm=options.width_mm, height_mm=options.height_mm, film_dpi=options.film_dpi)
    flat = separate(art, garment.srgb, request, soft=options.soft, on_step=progress)
    if options.background == "drop":
        flat = without_background(flat)
    names = distinct_words([area.srgb for area in flat.areas])
    names = [area.name or name for area, name in zip(flat.areas, names, strict=True)]
    meshes = [_mesh_for(area.srgb, area.tone is not None, garment, options) for area in flat.areas]
    found = preflight(
        [Screened(area, name, mesh) for area, name, mesh in zip(flat.areas, names, meshes, strict=True)],
        press=press,
        bases=_bases(flat, garment, options),
        dpi=art.dpi,
        measured=measured_of(press.name),
    )
    waves = _halftones(flat, names, meshes, options)
    told = ink_findings(
        [InkFound(n, a.srgb, a.coverage, a.tone is not None) for n, a in zip(names, flat.areas, strict=True)],
        art,
        garment,
    )
    findings = (*art_findings(art), *flat.findings, *told, *found.findings, *waves, *_empty(flat, garment))
    inks = tuple(
        (name, area.srgb, float(area.coverage.mean()) / 255, mesh)
        for name, area, mesh in zip(names, flat.areas, meshes, strict=True)
    )
    marked = marked_picture(art, garment.srgb, [(mark.kind, mark.place_mm) for mark in found.marks])
    return CheckedArt(art, garment, inks, findings, found.marks, marked)


def _mesh_for(srgb: tuple[int, int, int], has_tone: bool, garment: Garment, options: PrintOptions) -> Mesh:
    """Return the mesh that the ink would start with, before its thinnest line asks for a finer one."""
    from sepkit.colorimetry.srgb import srgb8_to_lab
    from sepkit.files.shelf.recipes import find_mesh
    from sepkit.press.advice import advise_mesh

    if options.mesh is not None:
        return find_mesh(options.mesh)
    white = float(srgb8_to_lab(np.array(srgb))[0]) > WHITE_L
    dark = garment.lab[0] < DARK_L
    return advise_mesh(role="colour", white=white, dark_garment=dark, has_tone=has_tone)


def _halftones(
    flat: FlatSeparation, names: list[str], meshes: list[Mesh], options: PrintOptions
) -> tuple[Finding, ...]:
    """Return what rulings and meshes of the tones ask: grey levels, smallest dots, waves with the threads."""
    from sepkit.press.advice import advise_halftone
    from sepkit.press.mesh import halftone_findings
    from sepkit.press.moire import moire_findings

    found: list[Finding] = []
    toned = [i for i, area in enumerate(flat.areas) if area.tone is not None]
    for nth, i in enumerate(toned):
        dots = advise_halftone(meshes[i], nth=nth, shape=options.shape)
        lpi = dots.lpi if options.lpi is None else options.lpi
        angle = dots.angle_deg if options.angle_deg is None else options.angle_deg + 30.0 * nth
        asked = Halftone(lpi, angle, options.shape)
        found += halftone_findings(asked, meshes[i], dpi=options.film_dpi, plate=names[i])
        found += moire_findings(asked, meshes[i], plate=names[i])
    return tuple(found)


def _bases(flat: FlatSeparation, garment: Garment, options: PrintOptions) -> int:
    """Return 1 when some ink needs a base on this garment."""
    choices = choices_for(flat.areas, garment, options)
    return int(any(choice.chosen.base_coats for choice in choices))


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
