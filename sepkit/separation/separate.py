"""The door of the room: artwork in, what the art asks of each ink out.

In: an :class:`~sepkit.model.Artwork`, the garment's sRGB, the person's wishes. Out: coverage planes on the art's own
pixel grid (uint8, 0 none, 255 solid) that sum to at most solid, with findings in plain words.
The ideas of convex mixing of palette colours and of its geometry are those of Tan, Echevarria, Gingold 2018
(doi 10.1145/3272127.3275054) and Aksoy et al. 2017 (doi 10.1145/3002176); local members, buried fills and the
choice of blend space are this room's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.channels import pack
from sepkit.coverage.sums import CACHED_PIXELS
from sepkit.errors import ArtworkError
from sepkit.model import FlatSeparation, InkArea
from sepkit.separation import grid, tones
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.cores import enclosed, solid_labels
from sepkit.separation.flats import flats_and_tones
from sepkit.separation.noise import Character, character, composite
from sepkit.separation.palette import distinct, unpack
from sepkit.separation.picture import Picture, picture_of
from sepkit.separation.report import Facts, badly_explained, confidence_of, difference_at, findings_of
from sepkit.separation.shares import Shares, Solved
from sepkit.separation.wish_findings import wish_findings
from sepkit.separation.wishes import OPEN, InkList, check_request, choose_inks

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, InkRequest, KindRule, Progress, SoftRule

Array = np.ndarray[Any, np.dtype[Any]]


def separate(
    art: Artwork,
    ground: RGB8,
    request: InkRequest,
    *,
    soft: SoftRule = "tone",
    kind: KindRule = "auto",
    on_step: Progress | None = None,
) -> FlatSeparation:
    """Return what the art asks of each ink on a garment of sRGB ``ground``.

    request: auto, a count, or named inks (see :class:`~sepkit.model.InkRequest`). soft says what becomes of soft
    transparent shadows: "tone" halftones them, "drop" leaves them out, "solid" prints them solid from half up.
    kind: "flat" looks for solid colours alone, "tonal" takes all but large calm areas for tones.
    Raises ArtworkError when the picture is wholly transparent, UsageError for a request that makes no sense.
    """
    check_request(request)
    if not art.alpha.any():
        raise ArtworkError("the picture is wholly transparent: there is nothing to print", where=art.source)
    found = character(art.rgb, art.alpha, ground)
    size = art.alpha.shape
    factor = _enlargement(art, ground, found) if found.blurred else 1.0
    picture = picture_of(art, ground, found, factor, soft)
    picture = replace(picture, kind=picture.kind.taken_for(kind))
    _tell(on_step, "picture", 1)
    tone, members, solved = flats_and_tones(picture)
    _tell(on_step, "edges", 2)
    colours = np.array([m.rgb for m in members], np.uint8).reshape(-1, 3)
    inks = choose_inks(colours, np.array([m.pixels for m in members]), ground, request, toned=tone is not None)
    planes = _planes(solved, inks, tone)
    inks, planes = _add_tones(picture, ground, request, inks, planes, tone)
    unexplained = _unexplained(picture, solved.shares, inks, planes, tone)
    bad = badly_explained(unexplained)
    trust = [confidence_of(plane, bad) for plane in planes]
    facts = _facts(art, picture, found, factor, solved.label, inks)
    if factor > 1:
        planes = grid.enlarge_planes(planes, size, factor=factor, soft=tone)
        tone = None if tone is None else grid.nearest(tone, size)
        unexplained = grid.nearest(unexplained, size)
    _tell(on_step, "tones", 3)
    areas = tuple(
        InkArea(rgb, plane, _tone_of(plane, tone), name, part)
        for rgb, name, plane, part in zip(inks.rgb, inks.names, planes, trust, strict=True)
    )
    result = FlatSeparation(areas, ground, solved.shares.space, unexplained=unexplained, source_px=factor)
    told = wish_findings(inks, colours, np.array([m.pixels for m in members]), request)
    return replace(result, findings=(*findings_of(art, result, request, facts), *told))


def _enlargement(art: Artwork, ground: RGB8, kind: Character) -> float:
    """Return by how much the art was enlarged, asked of a few of its rows."""
    rows = grid.sample_rows(len(art.alpha))
    seen = composite(art.rgb[rows], art.alpha[rows], ground)
    return grid.enlargement(seen, art.alpha.shape[0], kind.edge_width_px)


def _unexplained(picture: Picture, shares: Shares, inks: InkList, planes: list[U8], tone: Array | None) -> U8:
    """(h, w) ΔE00 x 8 of mixed pixels, blended as the art was, and of tones, which dots blend in linear light."""
    out = np.zeros(picture.alpha.shape, np.uint8)

    def ask(seen: U8, at: Array, space: str) -> U8:
        return difference_at(seen, at, colours=inks.rgb, planes=planes, ground=picture.ground, space=space)

    out.ravel()[shares.at] = ask(picture.seen_at(shares.at), shares.at, shares.space)
    if tone is not None:
        at = np.flatnonzero(tone)
        keys, place = distinct(pack(picture.seen_at(at)))  # shares of tones follow from the colour
        one = np.empty(len(keys), np.int64)
        one[place] = at
        out.ravel()[at] = ask(unpack(keys), one, "linear")[place]
    return out


def _facts(art: Artwork, picture: Picture, kind: Character, factor: float, label: U8, inks: InkList) -> Facts:
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
    """Return where an ink is a tone; None where it only touches one: a shadow on cloth as dark leaves rims alone."""
    mine = None if tone is None else tone & (plane > 0)
    return mine if mine is not None and tones.has_body(mine & (plane >= tuned.TONES.least_level)) else None


def _tell(on_step: Progress | None, stage: str, done: int) -> None:
    if on_step is not None:
        on_step.step(stage, done, 3)


def _planes(solved: Solved, inks: InkList, tone: Array | None) -> list[U8]:
    """Coverage of each ink from the labels of cores and the shares of mixed pixels."""
    shares = solved.shares
    ink_of = np.array([*inks.ink_of, OPEN], np.int16)[: max(len(solved.members), 1)]
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
    planes = _solid_planes(solved, [np.flatnonzero(ink_of == ink).tolist() for ink in range(len(inks.rgb))])
    for ink, plane in enumerate(planes):
        plane.ravel()[at] = level[ink][key]
    return planes


def _solid_planes(solved: Solved, members: Sequence[Sequence[int]]) -> list[U8]:
    """Return for each ink 255 where a core is one of its members, a few rows at a time.

    Labels are compared with each member: a table walks each pixel on its own.
    """
    label, core = solved.label, solved.shares.core
    planes = [np.empty(label.shape, np.uint8) for _ in members]
    for band in row_bands(len(label), max(1, CACHED_PIXELS // max(label.shape[1], 1))):
        rows = slice(band.start, band.stop)
        solid = solid_labels(label[rows], core[rows])
        for plane, own in zip(planes, members, strict=True):
            found = plane[rows].view(bool)
            found[:] = solid == own[0] if own else False
            for member in own[1:]:
                found |= solid == member
            np.negative(plane[rows], out=plane[rows])  # 1 wraps to 255
    return planes


def _add_tones(
    picture: Picture, ground: RGB8, request: InkRequest, inks: InkList, planes: list[U8], tone: Array | None
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
