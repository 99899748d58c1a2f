"""Art as it was brought, made ready: drawings leave their paper, one ink takes its figure, all else is separated.

In: artwork as read, the person's options, a bench. Out: the art as it prints, what it asks of each ink, and as first
finding what kind of art it is. One way for separate, check and job.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import colour_word
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import ArtworkError
from sepkit.intake.figure import one_ink
from sepkit.intake.kinds import KindOfArt, is_drawing_on_paper
from sepkit.intake.paper import Drawing, drawing_on_paper
from sepkit.intake.proposal import one_colour, proposed_ink
from sepkit.model import Artwork, Finding, FlatSeparation, InkArea, Size

if TYPE_CHECKING:
    from sepkit.intake.proposal import OneColour, Proposal
    from sepkit.model import RGB8, U8, Bool, KindRule, OneInkFrom
    from sepkit.plates.bench import Bench
    from sepkit.workshop.print.options import PrintOptions

TONAL_SHARE = 0.3
"""Of what is inked: art with more of it in tones is tonal."""
NEUTRAL_CHROMA = 14.0
"""A pen of less CIELAB chroma is black, whatever the light left of it (common practice: line art prints in black)."""
SHADED_SHARE = 0.01
"""Less shading than this part of the drawing is not worth a word."""


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """Art taken in, when nothing is left to separate: a drawing or one ink. ``flat`` has its findings."""

    art: Artwork
    flat: FlatSeparation


def taken_in(art: Artwork, options: PrintOptions, bench: Bench) -> Taken | None:
    """Return art that needs no separation of colours; None for all other art.

    Raises ArtworkError when nothing of it is left, or no drawing is found where one was told of.
    """
    if _is_drawing(art, options.kind):
        drawing = drawing_on_paper(
            art.rgb, width_mm=options.width_mm, height_mm=options.height_mm, shading=options.shading == "tone"
        )
        if drawing is not None:
            return _drawing(art, drawing, options, bench)
        if options.kind == "drawing":
            raise ArtworkError("no drawing on paper is found in it", where=art.source, hint="leave out --kind drawing")
    if options.one_ink:
        return _one_ink(art, options, bench)
    return None


def printed_size(art: Artwork, kind: KindRule, *, width_mm: float | None, height_mm: float | None) -> Size:
    """Return the size at which art prints: its own, or that of the drawing on the paper in it."""
    drawing = None
    if _is_drawing(art, kind):
        drawing = drawing_on_paper(art.rgb, width_mm=width_mm, height_mm=height_mm, shading=False)
    return art.size if drawing is None else _size(art, drawing, width_mm, height_mm)


def _is_drawing(art: Artwork, kind: KindRule) -> bool:
    return kind == "drawing" or (kind == "auto" and not art.vector and is_drawing_on_paper(art.rgb, art.alpha))


def _size(art: Artwork, drawing: Drawing, width_mm: float | None, height_mm: float | None) -> Size:
    height_px, width_px = drawing.pens[0].coverage.shape
    width = width_mm or (height_mm or art.height_mm) * width_px / height_px
    return Size(width, width * height_px / width_px)


def is_tonal(flat: FlatSeparation) -> bool:
    """Tell whether tones make up much of what prints."""
    inked = sum(int(np.count_nonzero(area.coverage)) for area in flat.areas)
    toned = sum(int(np.count_nonzero(area.tone)) for area in flat.areas if area.tone is not None)
    return toned > TONAL_SHARE * max(inked, 1)


def single_of(art: Artwork) -> OneColour | None:
    """Return figure and ground of art of one colour; None for any other art."""
    return one_colour(art.rgb, art.alpha)


def kind_told(single: OneColour | None, flat: FlatSeparation, options: PrintOptions) -> Finding:
    """Return what kind of art was separated, for art that was not taken in otherwise."""
    if is_tonal(flat):
        overrule = "--kind flat looks for solid colours alone" if options.kind == "auto" else ""
        return KindOfArt("tonal", f"{_inks(len(flat.areas))} in halftone dots", overrule).finding
    if single is not None and _figures(single, flat) < 2:
        ground = "on transparency" if single.ground is None else f"on {colour_word(single.ground)}"
        return KindOfArt(
            "one-colour",
            f"{colour_word(single.figure)} {ground}",
            "--one-ink INK prints it in any ink",
        ).finding
    overrule = "--kind tonal halftones it" if options.kind == "auto" else ""
    return KindOfArt("flat", f"{_inks(len(flat.areas))}, solid", overrule).finding


def _figures(single: OneColour, flat: FlatSeparation) -> int:
    """How many inks its figure takes: soft greys of a black figure may have one of their own."""
    return sum(area.srgb != single.ground and bool(area.coverage.any()) for area in flat.areas)


def proposal(single: OneColour | None, options: PrintOptions, bench: Bench) -> Proposal | None:
    """Return the one ink to ask for, where art of one colour would not print as a printer wants it."""
    if options.one_ink:
        return None
    return None if single is None else _proposed(single, bench, dropped=options.background == "drop")


def proposal_finding(found: Proposal) -> Finding:
    """Return a proposal as a warning."""
    return Finding(f"one-colour-{found.trouble}", "warn", found.text, found.hint)


def _proposed(single: OneColour, bench: Bench, *, dropped: bool) -> Proposal | None:
    shelf = {name: bench.ink(name).srgb for name in ("black",)} | {bench.base_ink.name: bench.base_ink.srgb}
    return proposed_ink(single, bench.garment.srgb, shelf=shelf, dropped=dropped)


def _inks(count: int) -> str:
    return "1 ink" if count == 1 else f"{count} inks"


def _one_ink(art: Artwork, options: PrintOptions, bench: Bench) -> Taken:
    label, srgb = bench.wishes.inks.named[0]
    made = one_ink(
        art.rgb, art.alpha, options.one_ink_from, ink_l=_lightness(srgb), cloth_l=float(bench.garment.lab[0])
    )
    if not made.coverage.any():
        raise ArtworkError(
            f'nothing of the art is left as one ink from "{made.source}"',
            where=art.source,
            hint="take it from shape, dark, light or tone (--one-ink-from, one_ink_from in a job)",
        )
    told = Finding("one-ink", "info", f"one ink, {label}: {made.words}", _other_ways(made.source))
    area = InkArea(srgb, made.coverage, made.tone, label)
    kind = KindOfArt("one-colour", f"all in {label}", "leave out --one-ink to separate its colours")
    return _taken(_in_ink(art, srgb, made.coverage), (area,), bench, (kind.finding, told))


def _other_ways(source: OneInkFrom) -> str:
    return f"--one-ink-from {' or '.join(way for way in ('dark', 'light', 'tone') if way != source)} takes another part"


def _in_ink(art: Artwork, srgb: RGB8, cover: U8) -> Artwork:
    """Return the art in the ink's colour, its coverage as transparency: prints are held against that."""
    rgb = np.empty((*cover.shape, 3), np.uint8)
    rgb[:] = srgb
    return replace(art, rgb=rgb, alpha=cover)


def _taken(art: Artwork, areas: tuple[InkArea, ...], bench: Bench, findings: tuple[Finding, ...]) -> Taken:
    return Taken(art, FlatSeparation(areas, bench.garment.srgb, "encoded", findings))


def _drawing(art: Artwork, drawing: Drawing, options: PrintOptions, bench: Bench) -> Taken:
    height_px, width_px = drawing.pens[0].coverage.shape
    printed = _size(art, drawing, options.width_mm, options.height_mm)
    whole = np.full((height_px, width_px), 255, np.uint8)
    size = replace(art, rgb=drawing.evened, alpha=whole, width_mm=printed.width_mm, height_mm=printed.height_mm)
    if options.one_ink and options.one_ink_from in ("light", "tone"):
        taken = _one_ink(size, options, bench)
        return replace(taken, flat=replace(taken.flat, findings=(_paper_told(drawing, 1), *taken.flat.findings[1:])))
    areas = _pens_in_inks(drawing, bench)
    cover = np.zeros((height_px, width_px), np.uint8)
    rgb = np.zeros((height_px, width_px, 3), np.uint8)
    for area in areas:
        rgb[area.coverage > cover] = area.srgb
        cover = np.maximum(cover, area.coverage)
    told = [_paper_told(drawing, len(areas))]
    if drawing.shaded > SHADED_SHARE:
        told.append(_shading_told(drawing, options))
    single = _proposed_for_pens(areas, bench) if not options.one_ink else None
    if single is not None:
        told.append(proposal_finding(single))
    return _taken(replace(size, rgb=rgb, alpha=cover), areas, bench, tuple(told))


def _pens_in_inks(drawing: Drawing, bench: Bench) -> tuple[InkArea, ...]:
    """Return an area for each ink: pens go to the nearest ink that was asked for, black ones to black."""
    request = bench.wishes.inks
    if request.named:
        inks = list(request.named)
    else:
        black = bench.ink("black")
        inks = []
        for pen in drawing.pens:
            lab = srgb8_to_lab(np.array(pen.srgb, np.uint8))
            is_black = float(np.hypot(lab[1], lab[2])) < NEUTRAL_CHROMA
            one = (black.name, black.srgb) if is_black else ("", pen.srgb)
            if one not in inks:
                inks.append(one)
        inks = inks[: request.count] if request.count is not None else inks
    labs = srgb8_to_lab(np.array([srgb for _, srgb in inks], np.uint8).reshape(-1, 3))
    planes: dict[int, tuple[U8, Bool | None]] = {}
    for pen in drawing.pens:
        nearest = int(delta_e_2000(srgb8_to_lab(np.array(pen.srgb, np.uint8))[None], labs).argmin())
        before = planes.get(nearest)
        planes[nearest] = (pen.coverage, pen.tone) if before is None else _joined(before, (pen.coverage, pen.tone))
    return tuple(InkArea(inks[k][1], cover, tone, inks[k][0]) for k, (cover, tone) in sorted(planes.items()))


def _joined(one: tuple[U8, Bool | None], other: tuple[U8, Bool | None]) -> tuple[U8, Bool | None]:
    tones = [tone for _, tone in (one, other) if tone is not None]
    return np.maximum(one[0], other[0]), np.logical_or.reduce(tones) if tones else None


def _proposed_for_pens(areas: tuple[InkArea, ...], bench: Bench) -> Proposal | None:
    """Return the one ink to propose where the pens' ink is not seen on the cloth."""
    from sepkit.intake.proposal import OneColour

    found = [_proposed(OneColour(area.srgb, None), bench, dropped=True) for area in areas]
    return next((one for one in found if one is not None), None) if all(found) else None


def _paper_told(drawing: Drawing, inks: int) -> Finding:
    sheet = drawing.sheet
    if sheet.whole:
        how = "it fills the picture"
    elif sheet.cut and sheet.flat:
        how = "the sheet is cut by the picture's border: straightened by its other three sides, with what is seen of it"
    elif sheet.cut:
        how = "the sheet is cut by the picture's border on more than one side, so it is not straightened"
    else:
        how = f"the {sheet.proportions + ' ' if sheet.proportions else ''}sheet is straightened and cut out"
    width = "its width and height are the drawing's own, without margins"
    ruled = ", printed rulings left out" if drawing.rulings else ""
    follows = f"{how}, its light evened{ruled}, paper open, lines in {_inks(inks)}; {width}"
    return KindOfArt("drawing", follows, "--kind flat takes the picture as it is").finding


def _shading_told(drawing: Drawing, options: PrintOptions) -> Finding:
    part = f"{drawing.shaded:.0%} of the drawing is soft shading"
    if options.shading == "tone":
        return Finding("shading", "info", f"{part}, halftoned", "--shading open leaves it out")
    return Finding("shading", "info", f"{part}, left open", "--shading tone halftones it")


def _lightness(srgb: RGB8) -> float:
    return float(srgb8_to_lab(np.array(srgb, np.uint8))[0])
