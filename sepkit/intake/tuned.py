"""Tuned constants of this room: each a number chosen on art, with what it parts. Functions read them as they run."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoParts:
    """When art is one colour on a ground: read by parts.py and figure.py."""

    off_levels: float = 44.0
    """A pixel this far off the line between figure and ground is of another colour,"""
    off_share: float = 0.012
    """and so many of them make art of several colours."""
    ends_share: float = 0.25
    """Pixels within this part of an end of that line belong to it;"""
    between_share: float = 0.22
    """more than so many in between are tones, not edges: small lettering has up to a seventh."""
    apart_levels: float = 40.0
    """Figure and ground nearer than this (Euclidean, 8-bit) are one."""
    least_share: float = 0.0015
    """Of the visible pixels: a part smaller than this is dirt."""
    clear_least_share: float = 0.03
    """On transparency, a part smaller than this is rims and dirt, and the whole shape is the figure."""
    border_share: float = 0.7
    """A part that holds so much of the border is the ground,"""
    frame_share: float = 0.3
    """unless what hangs together with the border is less of the picture than this"""
    frame_depth: float = 0.07
    """and nowhere reaches deeper than this part of the short side: then it is a frame."""
    even_share: float = 0.45
    """Parts of at least this share each do not tell figure from ground by their area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloths:
    """When one ink is worth proposing: read by proposal.py."""

    vanish_de00: float = 15.0
    """A figure this near to the cloth is not seen on it at arm's length."""
    box_de00: float = 6.0
    """A ground this near to the cloth stays open, as separation leaves it."""


TWO_PARTS = TwoParts()
CLOTHS = Cloths()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOfPaper:
    """Where the sheet lies in a picture: read by sheet.py."""

    stroke_share: float = 0.02
    """Strokes up to this part of the long side are closed before the sheet is looked for."""
    edge_stops: float = 0.07
    """A step of so many stops (log2) per pixel of the small picture is the sheet's edge; soft shadows have a fifth."""
    least_share: float = 0.12
    """A sheet is at least this part of the picture,"""
    whole_border: float = 0.8
    """and fills it where it holds so much of the border."""
    filled_share: float = 0.88
    """Part of its four corners' area that the sheet fills; less is no sheet."""
    search_share: float = 0.02
    """How far each way a side is looked for again in all pixels, of the long side."""
    inset_share: float = 0.006
    """Cut off inside the sides: the sheet's own edge and its shadow."""
    standard_share: float = 0.018
    """Proportions this near to those of a standard sheet are those."""
    camera_focal: float = 0.75
    """Focal length over the picture's long side: 26 mm on a frame of 36 x 24 (common practice for phones)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """Light on paper and what is drawn: read by light.py, strokes.py, pens.py, paper.py."""

    tiles: int = 88
    """Tiles along the long side on which light is measured: 3 mm on A4."""
    bright_percentile: float = 80.0
    """Of a tile's pixels: paper between strokes."""
    basin_depth: float = 0.08
    """A dark place this much below its rim is ink,"""
    basin_step: float = 0.09
    """when it falls so much from one tile to the next; soft shadows fall by less."""
    paper_band: float = 0.07
    """Pixels this near to the light of their tile are paper."""
    smooth_px: float = 0.7
    """Standard deviation of the smoothing before strokes are measured."""
    core_share: float = 0.5
    """Of a full stroke's darkness: a stroke's core has it,"""
    least_core: float = 0.2
    """and at least this much of the light is gone there,"""
    noise_times: float = 8.0
    """and so many times the paper's noise."""
    thin_level: float = 0.45
    """Thin and light strokes are cut at half their own darkness, down to this part of a full one."""
    level_px: int = 5
    """How far around a pixel its stroke's darkness is looked for."""
    edge_gain: float = 1.2
    """How much steeper than the lens left it an edge becomes, about its own place."""
    least_mm2: float = 0.035
    """Marks smaller than this are paper: a dot of 0.2 mm, which garment mesh does not hold."""
    least_px: int = 6
    """Marks of fewer pixels are noise."""
    pen_apart: float = 0.22
    """Two pens differ so much in what they take of red, green and blue; black and dark blue by 0.21."""
    pen_share: float = 0.03
    """A pen draws this part of all strokes,"""
    pen_mm2: float = 4.0
    """and so much area."""
    shade_dark: float = 0.07
    """Broad places this dark are shading,"""
    shade_mm: float = 1.2
    """when broader than this,"""
    shade_mm2: float = 25.0
    """and this large together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinds:
    """What kind of art a picture is: read by kinds.py."""

    exact_share: float = 0.3
    """So much of a picture in one exact colour is drawn with a program; paper under light has a tenth."""
    paper_share: float = 0.6
    """Of the sheet: paper, once its light is even,"""
    mid_share: float = 0.2
    """and no more than so much neither paper nor stroke: photographs have half."""
    apart_times: float = 1.2
    """Of what is drawn: so much may be in between without a stroke beside it, as shading is; photographs have more."""
    least_drawn: float = 0.002
    """Less than this is an empty sheet."""
    most_drawn: float = 0.4
    """More than this is no drawing on paper."""
    paper_chroma: float = 26.0
    """CIELAB chroma up to which a sheet is paper: cream has 15."""
    sheet_light: float = 0.12
    """Paper reflects at least so much, linear, as the picture has it."""
    light_stops: float = 0.4
    """Light on paper, where it is seen, strays so far (log2, standard deviation) from a smooth field: lamps and shadows
    by up to 0.15, the lights and darks of a photograph by 1;"""
    broad_share: float = 0.4
    """Of the marks: so much lies deeper inside them than a pen is wide; drawings have a sixth, washes seven tenths,"""
    broad_px: int = 6
    """that deep in the small picture, 900 px long,"""
    edge_stops: float = 0.17
    """where no step of so many stops (log2) a pixel parts one mark from the next;"""
    painted_stops: float = 0.9
    """and where it gets darker by so many stops (log2, nine tenths against one tenth) within one mark, it is painted:
    a filled shape under a streaky marker has a third, washes over two."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What is left of the table along the rim of a sheet: read by laid.py."""

    looked_px: int = 1200
    """Long side of the picture that is looked at, about;"""
    least_dark: float = 0.15
    """in it the table takes so much light, linear, beside paper."""
    along_share: float = 0.25
    """So much of the outline of a piece of table lies along the rim: corners have a half, strokes a twentieth;"""
    least_along: float = 0.04
    """so much of the picture's long side at least: the end of a broad stroke has less."""
    soft_px: int = 3
    """Its edge is so soft."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruling:
    """The printed lines of a sheet: read by ruling.py. Pixels are those of the picture that is looked at."""

    looked_px: int = 1200
    """Long side of that picture, about;"""
    strips: int = 36
    """so many strips across it vote for a line,"""
    across_share: float = 0.5
    """at least so many of them: the others may be drawn over."""
    margin_share: float = 0.75
    """A line that stands alone needs more."""
    half_thin_px: int = 4
    """Lines are thinner than twice this."""
    least_dark: float = 0.03
    """Light that a line takes, linear, at least: four times what even paper strays by,"""
    most_dark: float = 0.6
    """and at most: a pen takes more."""
    peak_percentile: float = 97.0
    """Of what thin marks take across strips: that is on a line, where there are lines,"""
    peak_share: float = 0.4
    """and what takes less than this part of it is paper's noise."""
    most_slope: float = 0.08
    """A sheet that was not laid flat lies so far askew."""
    apart_px: int = 6
    """Two lines are further from each other."""
    follow_px: int = 4
    """Paper bends by so much."""
    least_lines: int = 6
    """Fewer may have been drawn,"""
    uneven: float = 0.12
    """and so may those whose distances differ by more than this part,"""
    even_share: float = 0.6
    """unless most are even: a fold or an edge beside them is not."""
    reach_px: int = 2
    """What lies so near a line, each way, is part of it,"""
    pen_times: float = 1.5
    """but for what is so much darker than it: that a pen drew."""
    bare_share: float = 0.4
    """So much of a ruling lies bare: along a drawn line there are pens or nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineScreens:
    """When parallel lines are a screen, not drawn stripes: read by lines.py."""

    least_prominence: float = 6.0
    """Mean natural logarithm of the one peak over what surrounds it: lines have all their energy in one wave."""
    least_lpi: float = 30.0
    """Coarser lines, over 0.85 mm, are engraved shading that is drawn to be seen,"""
    least_coarse_lpi: float = 8.0
    """down to 3 mm, beyond which they are stripes."""
    block_pitches: float = 3.0
    """Lines are looked at in squares of so many pitches."""
    least_contrast: float = 30.0
    """Levels between light and dark below which a square holds no lines,"""
    least_swing: float = 0.25
    """nor where the wave is less than this part of them."""
    lined_share: float = 0.3
    """Squares of the picture that hold the lines: paper and solids hold none."""
    swell: float = 0.09
    """Between the narrow tenth of the lines and the wide one, over the pitch; stripes of one width vary less."""


SHEET = SheetOfPaper()
PAPER = Paper()
KINDS = Kinds()
LINES = LineScreens()
RULING = Ruling()
TABLE = Table()
