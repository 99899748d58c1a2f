"""Tuned constants, second table: who shares a mixed pixel, what is a speck, where tones are, what is worth a word.

As in :mod:`~sepkit.separation.tuned_colours`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """Explanations of a mixed pixel: read by unmix.py.

    Costs are squared residuals over squared noise, as in a log likelihood; the rest are odds against rarer events.
    """

    triple: float = 4.0
    """Three shapes meet in one pixel."""
    reach: float = 6.0
    """A member whose solid area is not next to the pixel but two pixels away."""
    bleed: float = 3.0
    """A buried fill shows through an edge, by the law in ``unmix.solve``."""
    loose_bleed: float = 9.0
    """The same where fill and outline end on slightly different edges."""
    bleed_share: float = 0.36
    """What shows then at most: t (1-t) peaks at a quarter, two fills of one edge reach a little more."""
    hairline: float = 30.0
    """A member with no solid area nearby,"""
    stranger: float = 15.0
    """and none in the whole region either;"""
    hairline_share: float = 0.35
    """it must cover this much of the pixel."""
    region_px: int = 16
    """Side of the tiles of which nine are the region."""
    good: float = 4.0
    """A cost so small that rarer events are not looked at."""
    bad: float = 25.0
    """A cost so high that hairlines are looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Lines in which no pixel is solid: read by thin_lines.py and edges.py."""

    least_share: float = 0.2
    """Least share of a pixel that speaks for a line; less is within a bad antialiaser's error."""
    gain: float = 4.0
    """A pixel speaks for a line when its cost with it is so much less than without."""
    cost: float = 1.0
    """Beside a line, pixels that cost more than this are solved with it,"""
    steps: int = 3
    """so many pixels from where it was found."""
    hairline_steps: int = 2
    """How far from solved hairlines their neighbours are solved with them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """Members that others mix to, told by their place: read by between.py."""

    line_levels: float = 6.0
    """So far off the mixing line of two others a member is still on it,"""
    mix_levels: float = 3.0
    """and so far off it a pixel may be a mix of the two: one farther tells by its colour what it holds."""
    rest_levels: float = 3.0
    """So far from the middle member's colour is still that colour."""
    line_px: int = 4
    """So far each way from a pixel of the middle member's exact colour"""
    least_line_px: int = 3
    """so many such pixels, itself among them, make a line of it: fewer are an accident of antialiasing."""
    walk_px: int = 4
    """An edge is walked so far."""
    ridge_px: int = 3
    """Around the ridge of a thin line it is looked so far for something past the middle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blend:
    """Whether edges were blended in encoded values or in linear light: read by edges.py and straight.py."""

    least_pixels: int = 40
    """Fewer two-colour pixels than this say nothing."""
    least_share: float = 0.7
    """Share of the pixels of a pair of colours that the pair must explain: else a third colour runs between the two."""
    deep_px: int = 3
    """From a mixed pixel to 3x3 solid areas of both its colours."""
    mixed_share: float = 0.02
    """A pixel counts as mixed from this share on either side."""
    lean_cost: float = 300.0
    """Cost of mean coverage off one half, squared: 0.1 off weighs as two levels of residual."""
    straighter: float = 0.9
    """Roughness in linear light over that in encoded values from which linear light is believed."""
    wave_px: int = 4
    """Coverage is summed so far to each side across an edge, and must end in solid areas."""
    wave_most: float = 1.0
    """A second difference beyond this is a corner, not a wave."""
    least_places: int = 50
    """Fewer places along level edges say nothing of straightness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Specks:
    """Spots of an ink that noise explains as well: read by specks.py."""

    dot_mm: float = 0.3
    """Diameter of the finest dot a garment screen holds (common practice)."""
    dot_px: float = 4.0
    """Area of it in coarse art, where one pixel is bigger than that."""
    cost: float = 16.0
    """Mean cost that leaving the ink out may add: 24 levels at a noise of 6."""
    buried_share: float = 0.36
    """A rare ink between two others that covers this much is more than a bleed by its law, and is a spot."""
    trace_share: float = 0.1
    """A share of an ink from which it is a trace, where no pixel nearby is that ink's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phantoms:
    """Inks that are ringing: read by phantoms.py."""

    body_share: float = 0.02
    """Ringing has less than this share of its pixels in 5x5 blocks of itself,"""
    percentile: float = 75.0
    """and others explain its pixels, but for those that gain most,"""
    gain: float = 16.0
    """at so little more: 4 for ringing in web pictures, 55 and more for inks that were drawn, thin lines among them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Redraw:
    """Coarse flat art drawn again: read by redraw.py and redrawn.py."""

    steps: int = 3
    """Diffusion and contest in turn: more change little."""
    wobble: float = 0.02
    """Coverage of a pixel this far off is compression or rounding,"""
    pull: float = 2.0
    """and what is beyond is put back with so much strength."""
    kept_share: float = 0.35
    """A part of which less than this is left has vanished."""
    below_dpi: float = 200.0
    """Art of fewer pixels per inch at print size shows them (common practice asks 300 dpi)."""
    hard_wobble: float = 0.49
    """In art of hard pixels one says only which ink has most of it,"""
    hard_stair_px: int = 16
    """and its outlines go in steps where they turn out and back within so many pixels; rectangles turn one way."""
    hard_least_dpi: float = 30.0
    """and below this, pixels of 0.85 mm, they are blocks that are meant."""
    hard_border_share: float = 0.02
    """Fewer pixels on borders than this are mixed in art of hard pixels, more in art with antialiasing,"""
    hard_most_border: float = 0.3
    """and borders are less of its inked pixels than this: else it is dithered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thin:
    """Strokes and gaps thinner than a pixel of coarse art: read by thin.py."""

    least: float = 0.1
    """A stroke fills so much of a pixel on its way,"""
    least_noisy: float = 0.3
    """and so much in compressed art, whose ringing fills less;"""
    most: float = 0.8
    """a pixel that is filled more is drawn as it is."""
    fall: float = 0.5
    """Within two pixels on both sides the stroke falls to less than this share of its middle."""
    rounds: int = 6
    """Giving back what is drawn too much or too little: more rounds change little,"""
    gain: float = 0.8
    """so strongly each time,"""
    sigma_px: float = 0.6
    """averaged over about a pixel,"""
    steep: float = 5.0
    """with films cut so steeply that the rounds come to rest."""
    over_half: float = 0.55
    """The middle of a stroke stays over half, so that no rounding breaks it,"""
    over_corner: float = 0.5
    """and so do the four pixels where it steps across a corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tones:
    """Where the art is tone rather than flat colour: read by flats.py and tones.py."""

    soft_share: float = 0.01
    """Fewer soft pixels than this and the art has no tones worth a look."""
    least_mm2: float = 1.0
    """A smooth region smaller than this is an edge, not a tone,"""
    least_px: float = 100.0
    """and so is one of fewer pixels than this."""
    plateau_share: float = 0.25
    """One exact colour that holds this share of a smooth region is flat colour within it."""
    least_level: int = 3
    """An ink that has less than this coverage wherever the art is tone, or nowhere a body of it, is flat."""
    veil_px: int = 5
    """Half-transparent over so many pixels is meant: antialiasing is one wide, two where two edges meet,"""
    veil_per_edge_px: float = 3.4
    """or over this times the picture's own edge width: the widest line that a blur leaves nowhere opaque is so wide."""
    veil_share: float = 0.015
    """Of what is not transparent: fewer such pixels are where soft edges meet, and no screen is laid for them."""
    veil_bend_levels: float = 14.0
    """Alpha that bends more than this is edges: soft shadows bend by 7, enlarged art by 25, lettering by 100."""
    busy_cost: float = 100.0
    """Pixels that cost more than this, where they crowd, are tone,"""
    busy_share: float = 0.4
    """which they do when they are this share"""
    busy_window_mm: float = 1.5
    """of a window of this side,"""
    busy_window_px: int = 7
    """or of this."""
    tonal_share: float = 0.4
    """A picture with this share of tones is tonal art: only large flat areas in it are flat inks,"""
    tonal_floor_share: float = 0.02
    """each at least this share of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneInks:
    """Which inks tones are made of: read by tones.py and simplex.py."""

    good_mean_de00: float = 1.5
    """Inks are added until the tones are matched this well on average, and"""
    good_p95_de00: float = 4.0
    """this well but for a twentieth."""
    twin_de00: float = 6.0
    """Two inks this close are one on cloth (common practice), unless"""
    twin_gain_de00: float = 0.15
    """the second earns its screen by so much on average."""
    most: int = 5
    """More screens for tones than this only when the person asks."""
    least_mm2: float = 4.0
    """Tones that would put less than this down in an ink of their own do not get one."""
    flat_linear: float = 0.004
    """Inks in linear light 0..1 whose cloud is thinner than this lie in a plane, on a line or in a point."""
    calm_px: int = 6
    """Each way, twice: over so many pixels an 8-bit ramp is evened out."""
    plain_de: float = 0.6
    """CIE 1976: nearer than this to one ink's tint a colour is that tint rather than two inks;"""
    plain_end_de: float = 1.5
    """beyond this it is the mixture, and between them some of both;"""
    plain_three_de: float = 1.2
    """nearer than this, rather than three inks or more,"""
    plain_three_end_de: float = 3.0
    """and beyond this the mixture."""
    plain_share: float = 0.1
    """Share of a mixture's ink from which its second and third ink count."""
    plain_aside: float = 0.15
    """How much further aside of a tone's direction from the garment than the nearest ink another still counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What is worth a word to the person: read by report.py, background.py and cores.py.

    No plate depends on it but where a background is left open.
    """

    sharp_edge_px: float = 1.4
    """Contrast over steepest step of plain antialiasing."""
    good_dpi: float = 225.0
    """Below this at print size, edges show steps at arm's length (common practice asks 300)."""
    open_share: float = 0.002
    """Of the picture: more of the garment's colour left open is told."""
    enclosed_tiles: int = 9
    """Pixels of the coarse picture from which a bare area inside the art is told."""
    veil_share: float = 0.002
    """Of the picture: more that is half-transparent is told."""
    background_share: float = 0.95
    """Of the border: an ink that covers more of it prints as a box."""
    background_level: int = 250
    """Coverage from which a border pixel is the background's,"""
    background_edge_px: int = 3
    """and how far its soft edges reach from where it is solid."""
    bad_de00: float = 6.0
    """A difference that is seen side by side on cloth (common practice)."""
    bad_share: float = 0.25
    """Of a place: so much bad makes it one that cannot be mixed."""
    place_mm: float = 3.0
    """Side of a place."""


ODDS = Odds()
LINES = Lines()
BETWEEN = Between()
BLEND = Blend()
SPECKS = Specks()
PHANTOMS = Phantoms()
REDRAW = Redraw()
THIN = Thin()
TONES = Tones()
TONE_INKS = ToneInks()
ADVICE = Advice()
