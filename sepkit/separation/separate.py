"""The door of the room: artwork in, what the art asks of each ink out.

In: an :class:`~sepkit.model.Artwork`, the garment's sRGB, the person's wishes. Out: coverage planes on the art's own
pixel grid (uint8, 0 none, 255 solid) that sum to at most solid, with findings in plain words.
The ideas of convex mixing of palette colours and of its geometry are those of Tan, Echevarria, Gingold 2018
(doi 10.1145/3272127.3275054) and Aksoy et al. 2017 (doi 10.1145/3002176); local members, buried fills and the
choice of blend space are this room's own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import as_rgb8
from sepkit.errors import ArtworkError
from sepkit.model import FlatSeparation, InkArea
from sepkit.separation import grid, palette, tones
from sepkit.separation.chroma import restore_chroma
from sepkit.separation.cores import NONE, enclosed
from sepkit.separation.edges import Members, Shares, solve_edges
from sepkit.separation.noise import Character, character, composite
from sepkit.separation.report import Facts, confidence_of, difference_at, findings_of
from sepkit.separation.specks import settle_specks
from sepkit.separation.thin_inks import mixed_after_all, refine_colour, sample_strips, thin_member, worth_keeping
from sepkit.separation.wishes import OPEN, InkList, check_request, choose_inks

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, InkRequest, Progress, SoftRule

Array = np.ndarray[Any, np.dtype[Any]]

SOFT_SHARE_FOR_TONES = 0.01  # fewer soft pixels than this and the art has no tones worth a look
BUSY_COST = 100.0  # pixels explained worse than this by flat colours, where they crowd, are tone
BUSY_SHARE = 0.4
BUSY_WINDOW_MM = 1.5
TONAL_PICTURE = 0.4  # a picture with this share of tones is tonal art: only large flat areas in it are flat inks
TONAL_FLOOR = 0.02
MOST_THIN_INKS = 6
REFINE_STEPS = 3
REFINE_SHRINK = 0.65  # a step longer than this part of the last one runs away


@dataclass(frozen=True, slots=True, eq=False)
class _Picture:
    rgb: U8
    alpha: U8
    veil: Array | None
    """(h, w) bool: broad half-transparent areas, which are tones; None when there are none."""
    kind: Character
    pixel_mm2: float
    ground: RGB8
    raw: U8
    """The same before chroma was restored: flat areas are calmest here, and window sums true."""

    def seen(self) -> U8:
        """Return the picture over the garment, as a viewer shows it."""
        return composite(self.rgb, self.alpha, self.ground)

    def seen_at(self, at: Array) -> U8:
        """Return (n, 3) the same at flat indices."""
        return composite(self.rgb.reshape(-1, 3)[at], self.alpha.ravel()[at], self.ground)


def separate(
    art: Artwork, ground: RGB8, request: InkRequest, *, soft: SoftRule = "tone", on_step: Progress | None = None
) -> FlatSeparation:
    """Return what the art asks of each ink on a garment of sRGB ``ground``.

    request: auto, a count, or named inks (see :class:`~sepkit.model.InkRequest`). soft says what becomes of soft
    transparent shadows: "tone" halftones them, "drop" leaves them out, "solid" prints them solid from half up.
    Raises ArtworkError when the picture is wholly transparent, UsageError for a request that makes no sense.
    """
    check_request(request)
    if not art.alpha.any():
        raise ArtworkError("the picture is wholly transparent: there is nothing to print", where=art.source)
    kind = character(art.rgb, art.alpha, ground)
    size = art.alpha.shape
    factor = grid.enlargement(composite(art.rgb, art.alpha, ground), kind.edge_width_px) if kind.blurred else 1.0
    picture = _picture(art, ground, kind, factor, soft)
    _tell(on_step, "picture", 1)
    tone, members, label, shares, made_of = _flats_and_tones(picture)
    _tell(on_step, "edges", 2)
    colours = np.array([m.rgb for m in members], np.uint8).reshape(-1, 3)
    inks = choose_inks(colours, np.array([m.pixels for m in members]), ground, request)
    planes = _planes(shares, label, made_of, inks, tone)
    inks, planes = _add_tones(picture, ground, request, inks, planes, tone)
    unexplained = _unexplained(picture, shares, inks, planes, tone)
    mixed = np.flatnonzero(unexplained)
    trust = [confidence_of(plane, mixed, unexplained.ravel()[mixed]) for plane in planes]
    facts = _facts(art, picture, kind, factor, label, inks)
    if factor > 1:
        planes = grid.enlarge_planes(planes, size, factor=factor, soft=tone)
        tone = None if tone is None else grid.nearest(tone, size)
        unexplained = grid.nearest(unexplained, size)
    _tell(on_step, "tones", 3)
    areas = tuple(
        InkArea(rgb, plane, _tone_of(plane, tone), name, part)
        for rgb, name, plane, part in zip(inks.rgb, inks.names, planes, trust, strict=True)
    )
    result = FlatSeparation(areas, ground, shares.space, unexplained=unexplained)
    return replace(result, findings=findings_of(art, result, request, facts))


def _unexplained(picture: _Picture, shares: Shares, inks: InkList, planes: list[U8], tone: Array | None) -> U8:
    """(h, w) ΔE00 x 8 of mixed pixels, blended as the art was, and of tones, which dots blend in linear light."""
    out = np.zeros(picture.alpha.shape, np.uint8)
    parts: list[tuple[Array, str]] = [(shares.at, shares.space)]
    if tone is not None:
        parts.append((np.flatnonzero(tone), "linear"))
    for at, space in parts:
        seen = picture.seen_at(at)
        out.ravel()[at] = difference_at(seen, at, colours=inks.rgb, planes=planes, ground=picture.ground, space=space)
    return out


def _facts(art: Artwork, picture: _Picture, kind: Character, factor: float, label: U8, inks: InkList) -> Facts:
    """Gather what the findings tell; areas of the garment's colour are labels whose ink is none."""
    shape = (label.shape[0], label.shape[1])
    bare = np.zeros(256, bool)
    bare[[k for k, ink in enumerate(inks.ink_of) if ink == OPEN and k not in inks.left_open]] = True
    share, inside = 0.0, None
    if bare.any():
        here = bare[label]
        share = float(here.mean())
        inside = enclosed(here)
    return Facts(
        pixel_mm=(art.width_mm / shape[1], art.height_mm / shape[0]),
        edge_width_px=kind.edge_width_px,
        factor=factor,
        blurred=kind.blurred,
        open_share=share,
        open_at=inside,
        veil_share=0.0 if picture.veil is None else float(picture.veil.mean()),
        colours_found=sum(ink != OPEN for ink in inks.ink_of) + len(inks.left_open),
        left_open=len(inks.left_open),
        shape=shape,
    )


def _tone_of(plane: U8, tone: Array | None) -> Array | None:
    mine = None if tone is None else tone & (plane > 0)
    return mine if mine is not None and mine.any() else None


def _picture(art: Artwork, ground: RGB8, kind: Character, factor: float, soft: SoftRule) -> _Picture:
    """Return what to separate: on its own grid where it was enlarged, its soft shadows settled as the person wants."""
    rgb, alpha, pixel_mm2 = art.rgb, art.alpha, (25.4 / art.dpi) ** 2
    if factor > 1:
        height, width = alpha.shape
        small = (round(height / factor), round(width / factor))
        rgb, alpha = grid.shrink_rgba(rgb, alpha, small)
        pixel_mm2 *= height * width / (small[0] * small[1])
        kind = character(rgb, alpha, ground)
    if kind.restless and palette.is_drawn(rgb, alpha, pixel_mm2=pixel_mm2):
        kind = replace(kind, drawn=True)
    raw = rgb
    if kind.noisy and not kind.photograph and alpha.min() == 255:
        rgb = restore_chroma(raw)
    veil = tones.soft_alpha(alpha, edge_width_px=kind.edge_width_px)
    alpha = tones.settle_alpha(alpha, veil, soft)
    return _Picture(rgb, alpha, veil if soft == "tone" else None, kind, pixel_mm2, ground, raw)


def _tell(on_step: Progress | None, stage: str, done: int) -> None:
    if on_step is not None:
        on_step.step(stage, done, 3)


def _flats_and_tones(picture: _Picture) -> tuple[Array | None, list[palette.Member], U8, Shares, Members]:
    """Return the tone map, the flat colours outside it, labels, solved mixed pixels and what those are made of."""
    kind, tone = picture.kind, picture.veil
    if kind.soft_share > SOFT_SHARE_FOR_TONES:
        smooth = tones.tone_map(picture.seen(), picture.alpha > 0, pixel_mm2=picture.pixel_mm2, noisy=kind.noisy)
        tone = _union(tone, smooth if smooth.any() else None)
    if kind.photograph:
        return _photograph(picture, tone)
    find = palette.find_noisy_members if kind.noisy else palette.find_clean_members
    skip = tones.with_rim(tone) if kind.noisy and tone is not None else tone
    members = find(picture.raw, picture.alpha, skip, pixel_mm2=picture.pixel_mm2)
    members, (label, shares, made_of) = _with_thin(picture, members, tone)
    if kind.noisy:
        shares = settle_specks(picture.rgb, picture.alpha, label, shares, made_of, pixel_mm2=picture.pixel_mm2)
    busy = _union(tone, _busy(shares, picture))
    visible = np.count_nonzero(picture.alpha)
    if busy is None or np.count_nonzero(busy) < TONAL_PICTURE * visible:
        return busy, members, label, shares, made_of
    return _tonal(picture, members, tone, busy)


def _with_thin(
    picture: _Picture, members: list[palette.Member], tone: Array | None
) -> tuple[list[palette.Member], tuple[U8, Shares, Members]]:
    """Add the inks that only thin lines show, and return the members with what they explain."""
    noisy, pixel_mm2, flats = picture.kind.noisy, picture.pixel_mm2, len(members)
    skip = tones.with_rim(tone) if noisy and tone is not None else None

    def next_thin(_: U8, shares: Shares, made_of: Members) -> palette.Member | None:
        return thin_member(picture.rgb, picture.alpha, shares, made_of, noisy=noisy, pixel_mm2=pixel_mm2, skip=skip)

    solved = _edges(picture, members, tone)
    for _ in range(MOST_THIN_INKS):
        if (thin := next_thin(*solved)) is None:
            break
        more = [*members, thin]
        if noisy:
            more = _refined(picture, more, tone, solved[1])
        found = _edges(picture, more, tone)
        if noisy and not worth_keeping(found[1], found[0], found[2], len(more) - 1):
            break
        members, solved = more, found
        if not noisy and (mixed := mixed_after_all(members, flats, solved[2])) is not None:
            members = [*members[:mixed], *members[mixed + 1 :]]
            solved = _edges(picture, members, tone)
    for n in range(len(members) - 2, flats - 1, -1) if not noisy else ():
        fewer = [*members[:n], *members[n + 1 :]]
        found = _edges(picture, fewer, tone)
        if next_thin(*found) is None:  # those found later explain what this one was found in
            members, solved = fewer, found
    return members, solved


def _refined(
    picture: _Picture, members: list[palette.Member], tone: Array | None, before: Shares
) -> list[palette.Member]:
    """Settle the colour of the last member, found in smeared lines; stop when the steps do not shrink.

    ``before`` are the pixels solved without it. Where they are many, strips of the picture say enough.
    """
    strips = sample_strips(picture.alpha.shape[0], len(before.at))
    outside = ~np.broadcast_to(strips[:, None], picture.alpha.shape)
    last = np.inf
    for _ in range(REFINE_STEPS):
        label, shares, made_of = _edges(picture, members, tone, skip=None if strips.all() else outside)
        old = np.array(members[-1].rgb, np.float64)
        colour = refine_colour(picture.raw, label, shares, made_of, len(members) - 1, strips=strips)
        move = float(np.linalg.norm(colour - old))
        if move > REFINE_SHRINK * last or move < 1:
            break
        last = move
        members = [*members[:-1], replace(members[-1], rgb=as_rgb8(colour))]
    return members


def _photograph(
    picture: _Picture, tone: Array | None
) -> tuple[Array | None, list[palette.Member], U8, Shares, Members]:
    """Separate a photograph: large calm areas are flat, all else is tone."""
    ranges = palette.NOISY_FLAT_RANGES[:1]
    skip = None if tone is None else tones.with_rim(tone)
    members = palette.find_noisy_members(picture.rgb, picture.alpha, skip, pixel_mm2=picture.pixel_mm2, ranges=ranges)
    return _tonal(picture, members, tone, np.zeros(picture.alpha.shape, bool))


def _tonal(
    picture: _Picture, members: list[palette.Member], tone: Array | None, busy: Array
) -> tuple[Array | None, list[palette.Member], U8, Shares, Members]:
    """Keep the large flat colours of tonal art; what they do not explain joins ``busy``."""
    members = [m for m in members if m.pixels >= TONAL_FLOOR * np.count_nonzero(picture.alpha)]
    label, shares, made_of = _edges(picture, members, tone)
    busy = busy.copy() if (again := _busy(shares, picture)) is None else busy | again
    if tone is not None:
        busy |= tone
    busy.ravel()[shares.at[shares.cost() > BUSY_COST]] = True
    if picture.kind.photograph:
        busy |= ~shares.core
    return busy & (picture.alpha > 0), members, label, shares, made_of


def _union(one: Array | None, other: Array | None) -> Array | None:
    if one is None or other is None:
        return other if one is None else one
    return one | other


def _edges(
    picture: _Picture, members: list[palette.Member], tone: Array | None, *, skip: Array | None = None
) -> tuple[U8, Shares, Members]:
    """Label the cores and solve the mixed pixels outside ``skip``; transparent is the last member, if there is any."""
    labels = palette.label_noisy if picture.kind.noisy else palette.label_clean
    label = labels(picture.rgb, picture.alpha, members)
    if tone is not None:
        label[tone] = NONE
    colours = np.array([m.rgb for m in members], np.uint8).reshape(-1, 3)
    alpha = np.full(len(colours), 255, np.uint8)
    if picture.alpha.min() < 255:
        label[picture.alpha == 0] = len(colours)
        colours = np.vstack([colours, np.zeros((1, 3), np.uint8)])
        alpha = np.append(alpha, np.uint8(0))
    made_of = Members(colours, alpha)
    shares = solve_edges(picture.rgb, picture.alpha, label, made_of, noisy=picture.kind.noisy, skip=_union(tone, skip))
    return label, shares, made_of


def _busy(shares: Shares, picture: _Picture) -> Array | None:
    """Where badly explained pixels crowd: texture and photographs, which no flat colour explains."""
    at = shares.at[shares.cost() > BUSY_COST]
    window = max(7, round(BUSY_WINDOW_MM / math.sqrt(picture.pixel_mm2)))
    if at.size < BUSY_SHARE * window * window / 4:
        return None
    from scipy import ndimage

    bad = np.zeros(picture.alpha.shape, np.float32)
    bad.ravel()[at] = 1
    crowd = ndimage.uniform_filter(bad, window) > BUSY_SHARE
    if not crowd.any():
        return None
    crowd = ndimage.uniform_filter(crowd.astype(np.float32), window) > 0
    return np.asarray(crowd & ~shares.core & (picture.alpha > 0))


def _planes(shares: Shares, label: U8, members: Members, inks: InkList, tone: Array | None) -> list[U8]:
    """Coverage of each ink from the labels of cores and the shares of mixed pixels."""
    ink_of = np.array([*inks.ink_of, OPEN], np.int16)[: max(len(members), 1)]
    solid = np.where(shares.core, label, NONE)
    mixture = shares.mixture
    at, key = shares.at, shares.key
    if tone is not None:
        keep = ~tone.ravel()[at]
        at, key = at[keep], key[keep]
    amount = np.zeros((len(inks.rgb) + 1, len(mixture.cost)), np.float32)  # the last row is bare garment
    rows = np.arange(len(mixture.cost))
    for slot in range(3):
        who = mixture.member[:, slot]
        amount[np.where(who >= 0, ink_of[who], OPEN), rows] += mixture.share[:, slot]
    level = np.floor(amount * 255 + 0.5).astype(np.uint8)
    planes = []
    for ink in range(len(inks.rgb)):
        table = np.zeros(256, np.uint8)
        table[np.flatnonzero(ink_of == ink)] = 255
        plane = table[solid]
        plane.ravel()[at] = level[ink][key]
        planes.append(plane)
    return planes


def _add_tones(
    picture: _Picture, ground: RGB8, request: InkRequest, inks: InkList, planes: list[U8], tone: Array | None
) -> tuple[InkList, list[U8]]:
    """Cover the tonal pixels with the inks there are, and with end inks where more are needed and allowed."""
    if tone is None or not tone.any():
        return inks, planes
    at = np.flatnonzero(tone)
    seen = picture.seen_at(at)
    fixed = tones.linear_of(np.array([ground, *inks.rgb], np.uint8))
    count = None if request.count is None else max(0, request.count - len(inks.rgb))
    ends = np.zeros((0, 3))
    if not request.named and count != 0:
        cloud, weight = tones.colour_cloud(seen)
        ends = tones.tone_ends(cloud, weight, fixed, count=count, pixel_mm2=picture.pixel_mm2)
    fine = seen if picture.kind.noisy else tones.unrounded(picture.seen(), tone)
    shares = tones.shares_of_pixels(fine, np.vstack([fixed, ends]))
    planes = planes + [np.zeros(tone.shape, np.uint8) for _ in ends]
    for k, plane in enumerate(planes):
        plane.ravel()[at] = shares[:, k + 1]
    rgb = (*inks.rgb, *(tones.to_rgb8(e) for e in ends))
    return InkList(rgb, (*inks.names, *[""] * len(ends)), inks.ink_of), planes
