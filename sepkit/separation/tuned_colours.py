"""Tuned constants, first table: what kind of picture it is, and which colours it was drawn in.

A field is a number chosen on art, with what it parts. Numbers of mathematics, standards, and bounds of work stand where
they are used. Functions read the tables below as they run, so ``python -m tests.benchmarks constants`` can move them.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinds:
    """Clean, noisy, photograph, blurred: read by noise.py, and by palette.py for small drawn art."""

    soft_range_levels: int = 8
    """A 3x3 range of one to this is noise or a slow gradient; more is an edge."""
    calm_range_levels: int = 6
    """A 3x3 range up to this is calm."""
    photo_calm_share: float = 0.4
    """Of all pixels: photographs have a fifth of calm ones or less, drawn art half or more, even after JPEG."""
    noisy_edge_share: float = 0.004
    """Soft pixels that go up and down again, per edge pixel,"""
    noisy_soft_share: float = 0.0155
    """the same of all soft pixels, since rounding makes soft shadows go up and down a little,"""
    noisy_least_share: float = 0.0006
    """and of all pixels."""
    grain_calm_share: float = 0.02
    """Fewer calm pixels than this in a picture of many colours: grain too strong to leave any small wobble."""
    grain_colour_share: float = 0.05
    """Colours per pixel that are many."""
    edge_step_levels: int = 40
    """Difference of neighbours that counts as an edge."""
    edge_reach_px: int = 7
    """How far each way an edge's whole contrast is looked for."""
    least_edges: int = 50
    """Fewer edge places say nothing of sharpness."""
    soft_edge_px: float = 2.2
    """Contrast over steepest step: antialiased art has 1.2-1.6 px, enlarged art more."""
    drawn_colours: int = 4
    """So many of the biggest colours make up small drawn art after JPEG,"""
    drawn_off_share: float = 0.14
    """but for this share of its calmer half,"""
    drawn_calm_share: float = 0.06
    """save grain, which has fewer calm pixels than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Enlarged:
    """By how much a blurred picture was enlarged: read by grid.py."""

    fit_share: float = 0.05
    """Residual over edge contrast at which a smaller grid still holds all there is."""
    own_grid_share: float = 0.75
    """Residual over that of the same grid moved by half its pixel: up to 0.60 in drawn art enlarged by 1.5 to 3 with
    three kernels, JPEG or not; from 0.93 up in art blurred by 0.6 to 2 px."""
    edge_levels: int = 24
    """Range within 3 px that makes a test pixel an edge pixel."""
    most_per_edge_px: float = 1.4
    """No factor is tried beyond this times the edge width: an enlarged sharp edge is that wide."""
    least_side_px: int = 24
    """Smaller pictures are not shrunk to less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chroma:
    """Chroma made sharp again after subsampling: read by chroma.py."""

    smear_px: float = 1.2
    """Standard deviation of 2x2 averaging followed by triangular upsampling."""
    window_px: int = 5
    """Side of the window in which two colours meet at most."""
    calm_variance_levels2: float = 30.0
    """Where smeared luma varies less, no slope is trusted."""
    least_gain: float = 0.15
    """Chroma that lost less of its detail is left as it is."""
    halved_share: float = 0.85
    """4:2:0 lacks so much of the chroma detail of what was drawn; 4:2:2 some 0.5, full chroma 0.1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Art:
    """What differs between clean and noisy art: read by palette.py, edges.py, thin_inks.py, specks.py, tones.py."""

    noise_levels: float
    """Standard deviation of a pixel from the mixture that it is."""
    chroma_weight: float
    """Weight of chroma against luma in a residual: 4:2:0 carries a quarter of it."""
    near_px: int
    """A colour with a core this near shares a pixel freely,"""
    reach_px: int
    """this near at a price,"""
    far_px: int
    """and this near where there is none nearer."""
    floor_mm2: float
    """Flat area worth a screen: a 0.5 mm square is about the finest dot garment mesh holds."""
    merge_de00: float
    """Flat colours closer than this are one ink."""
    part_merge_de00: float
    """The same for a colour of thin lines or of small restless areas only."""
    unexplained_levels: float
    """A mixed pixel farther than this off anything its neighbours can mix holds another ink."""
    blend_levels: float
    """A colour this near to a mix of two others is that mix."""
    thin_floor_px: float
    """Fewer pixels than this agree on the colour of thin lines by chance."""
    travel_levels: float
    """Standard deviation within a smooth region that makes it a tone; 4 is some 14 levels from end to end."""


CLEAN = Art(
    noise_levels=1.5,  # rounding of colour, alpha and premultiplication
    chroma_weight=1.0,
    near_px=1,
    reach_px=2,
    far_px=4,
    floor_mm2=0.25,
    merge_de00=2.5,  # one ink to the eye at arm's length
    part_merge_de00=2.5,
    unexplained_levels=12,  # too far for a bad antialiaser
    blend_levels=5,
    thin_floor_px=16,
    travel_levels=4.0,
)
"""Art whose flat areas are flat."""

NOISY = Art(
    noise_levels=6.0,
    chroma_weight=0.6,
    near_px=2,  # compression makes edges two pixels wider
    reach_px=3,
    far_px=6,
    floor_mm2=0.6,
    merge_de00=5.0,
    part_merge_de00=10.0,
    unexplained_levels=36,
    blend_levels=24,
    thin_floor_px=40,
    travel_levels=8.0,
)
"""Art with compression or sensor noise."""


def of_art(noisy: bool) -> Art:
    """Return the table of noisy or of clean art."""
    return NOISY if noisy else CLEAN


@dataclass(frozen=True, slots=True, kw_only=True)
class Flats:
    """Flat colours of either kind: read by palette.py and wishes.py."""

    floor_px: float = 16.0
    """Least flat area of coarse art, where ``floor_mm2`` is a handful of pixels."""
    seen_part: float = 1 / 16
    """Part of the floor that one exact colour must hold to lead or join a flat colour of clean art,"""
    least_seen_px: int = 2
    """and at least so many pixels of it: one seen less may be any accident."""
    mode_part: float = 1 / 40
    """Part of the floor that the commonest colour left must hold for the search to go on in noisy art."""
    flat_range_levels: int = 6
    """What a flat area wobbles within 3x3 in a good JPEG,"""
    small_range_levels: int = 12
    """in smaller areas,"""
    smallest_range_levels: int = 20
    """and in the smallest."""
    merge_levels: float = 20.0
    """Noisy colours nearer than this (Euclidean, 8-bit) are one, as ΔE00 is finer than noise in the darks."""
    peel_levels: float = 12.0
    """Noisy pixels this near to a mode of the picture belong to it,"""
    line_peel_levels: float = 24.0
    """and this near to the colour of thin lines."""
    label_chroma: float = 0.4
    """Weight of chroma when noisy pixels are told apart,"""
    label_levels: float = 18.0
    """which may be a colour when this near to it."""
    ground_de00: float = 6.0
    """Art this near the garment's colour is left open: photographs of cloth vary more than that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinInks:
    """Inks that only thin lines show: read by thin_inks.py and flats.py."""

    most_inks: int = 6
    """So many are looked for."""
    nearly_most_share: float = 0.67
    """Of the colours that explain nearly as much as the best, the one seen most is the ink."""
    tip_levels: float = 60.0
    """Noisy lines are smeared towards their ground: their colour is the far end of this neighbourhood,"""
    tip_percentile: float = 85.0
    """the pixels of which cost more than so many per cent of the others."""
    window_radius_px: int = 4
    """9x9 windows, wider than the smear of 16x16 chroma blocks reaches in practice."""
    solid_share: float = 0.5
    """Windows stand around pixels that a line covers this much of."""
    refine_steps: int = 3
    """How often the colour of a noisy line is found again from the shares it gave."""
    refine_shrink: float = 0.65
    """A step longer than this part of the last one runs away."""


KINDS = Kinds()
ENLARGED = Enlarged()
CHROMA = Chroma()
FLATS = Flats()
THIN_INKS = ThinInks()
