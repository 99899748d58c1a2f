"""Where the art is tone rather than flat colour, and which end inks carry the tones.

In: picture (sRGB over the garment), flat members, garment. Out: a boolean tone map; end colours; shares of the ends.
Tones are halftoned, so they mix as light does: in linear light. A tone is a smooth region whose colour travels, or a
region too busy for any flat colour to explain; it is never many inks, but few ends that its colours lie between.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_table, linear_to_lab, linear_to_srgb
from sepkit.coverage.bands import row_bands
from sepkit.coverage.channels import greatest, least, pack, pixels_where, total
from sepkit.coverage.sums import mean_of_whole
from sepkit.separation import tuned_colours
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.cores import STRIP_ROWS
from sepkit.separation.noise import range3
from sepkit.separation.palette import distinct, unpack
from sepkit.separation.simplex import mix_shares
from sepkit.separation.tone_table import shares_by_colour

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8

Array = np.ndarray[Any, np.dtype[Any]]

CELL_PX = 8  # cells by which parts of a mask are told
RIM_PX = 4  # a tone map of 2x2 blocks judged by 3x3 of them ends this much before the tone does
BODY_PX = 2  # each way: an antialiased edge is narrower
COUNTED_PX = 1 << 18  # pixels counted at once, for the cache
SAMPLE_COLOURS = 6000  # colours that inks are fitted to at most


def tone_map(picture: U8, opaque: Array, *, pixel_mm2: float, noisy: bool) -> Array:
    """Return (h, w) bool: smooth regions (``Kinds.soft_range_levels`` within 3x3) in which the colour travels."""
    step = 2 if noisy else 1
    small = _block_mean(picture, step)
    spread = range3(small)
    smooth = spread <= tuned_colours.KINDS.soft_range_levels * step
    from scipy import ndimage

    numbered, count = ndimage.label(smooth & opaque[::step, ::step][: smooth.shape[0], : smooth.shape[1]])
    if count == 0:
        return np.zeros(opaque.shape, bool)
    size = np.bincount(numbered.ravel(), minlength=count + 1)
    size[0] = 0
    large = np.flatnonzero(size * step * step >= _least_px(pixel_mm2))
    levels = _levels_of(small, numbered, large, count)
    mean, square = (levels @ np.arange(256) ** k / size[large, None] for k in (1, 2))
    travel = np.sqrt(np.maximum(square - mean * mean, 0))
    toned = (travel > tuned_colours.of_art(noisy).travel_levels).any(axis=1)
    tone = np.zeros(count + 1, bool)
    tone[large[toned]] = True
    mask = tone[numbered]
    if toned.any() and not noisy:
        mask &= ~_plateaus(small, numbered, large[toned], levels[toned], size)
    out = mask.repeat(step, 0).repeat(step, 1)[: opaque.shape[0], : opaque.shape[1]]
    full = np.zeros(opaque.shape, bool)
    full[: out.shape[0], : out.shape[1]] = out
    return full


def with_rim(tone: Array) -> Array:
    """Return the (h, w) tone map with the rim that its windows could not judge: its colours are no flat colours."""
    return ~_all_around(~tone, RIM_PX)


def has_body(mask: Array) -> bool:
    """Tell whether a (h, w) bool mask is somewhere broader than an antialiased edge."""
    return any(
        _all_around(mask[band.outer_start : band.outer_stop], BODY_PX, beyond=False).any()
        for band in row_bands(len(mask), STRIP_ROWS, halo=2 * BODY_PX)
    )


def soft_alpha(alpha: U8, *, edge_width_px: float, pixel_mm2: float) -> Array | None:
    """Return (h, w) bool: half-transparent areas broader than an antialiased edge: soft shadows, glows, veils.

    None when there are none. Areas too small to halftone are edges that meet: a square of the least area has a quarter
    of it inside its rim. Small lettering and worn texture are half-transparent everywhere too, and soft edges are
    broad: but their alpha bends at every pixel, where that of a shadow hardly does.
    """
    reach = max(tuned.TONES.veil_px, round(tuned.TONES.veil_per_edge_px * edge_width_px)) // 2
    out: Array | None = None
    for band in row_bands(len(alpha), STRIP_ROWS, halo=2 * reach + 1):
        rows = slice(band.outer_start, band.outer_stop)
        partial = (alpha[rows] - np.uint8(1)) < 254  # 1..254
        if np.count_nonzero(partial) < reach * reach:
            continue
        broad = _all_around(partial, reach, beyond=False)
        if not broad.any():
            continue
        broad &= _bend(alpha[rows], 2 * reach + 1) <= tuned.TONES.veil_bend_levels
        if not broad.any():
            continue
        grown = ~_all_around(~broad, reach + 1)
        if out is None:
            out, broads = np.zeros(alpha.shape, bool), np.zeros(alpha.shape, bool)
        out[band.start : band.stop] = (grown & partial)[band.inner]
        broads[band.start : band.stop] = broad[band.inner]
    if out is None or np.count_nonzero(out) < tuned.TONES.veil_share * np.count_nonzero(alpha):
        return None
    return _of_size(out, broads, _least_px(pixel_mm2) / 4)


def _bend(alpha: U8, window_px: int) -> Array:
    """Return (h, w) float32: how much alpha bends along rows and columns, on the mean of a window, in levels."""
    from scipy.ndimage import uniform_filter

    deep = alpha.astype(np.int16)
    bend = np.zeros(alpha.shape, np.float32)
    bend[1:-1] += np.abs(deep[:-2] - 2 * deep[1:-1] + deep[2:])
    bend[:, 1:-1] += np.abs(deep[:, :-2] - 2 * deep[:, 1:-1] + deep[:, 2:])
    return np.asarray(uniform_filter(bend, window_px, mode="nearest"))


def _least_px(pixel_mm2: float) -> float:
    return max(tuned.TONES.least_mm2 / pixel_mm2, tuned.TONES.least_px)


def _of_size(mask: Array, inner: Array, least_px: float) -> Array | None:
    """Return a (h, w) bool mask without parts that hold little of ``inner``, told by coarse cells; None for nothing."""
    from scipy import ndimage

    rows, columns = np.arange(0, mask.shape[0], CELL_PX), np.arange(0, mask.shape[1], CELL_PX)

    def held(plane: Array) -> Array:
        return np.asarray(np.add.reduceat(np.add.reduceat(plane, columns, axis=1, dtype=np.int32), rows, axis=0))

    part, count = ndimage.label(held(mask), structure=np.ones((3, 3)))
    large = np.bincount(part.ravel(), held(inner).ravel(), count + 1) >= least_px
    large[0] = False
    keep = large[part].repeat(CELL_PX, 0).repeat(CELL_PX, 1)[: mask.shape[0], : mask.shape[1]]
    return mask & keep if large.any() else None


def _all_around(mask: Array, reach: int, *, beyond: bool = True) -> Array:
    """Tell where the whole square of ``reach`` px each way is True; what lies beyond the border is ``beyond``."""
    padded = np.pad(mask, reach, constant_values=beyond)
    rows = padded[: len(mask)].copy()
    for k in range(1, 2 * reach + 1):
        rows &= padded[k : k + len(mask)]
    width = mask.shape[1]
    out = rows[:, :width].copy()
    for k in range(1, 2 * reach + 1):
        out &= rows[:, k : k + width]
    return out


def settle_alpha(alpha: U8, veil: Array | None, soft: str) -> U8:
    """Return alpha with the veil left out ("drop"), made solid from half up ("solid"), or as it is ("tone")."""
    if soft == "tone" or veil is None:
        return alpha
    solid = np.where(alpha >= 128, 255, 0) if soft == "solid" else 0
    return np.where(veil, solid, alpha).astype(np.uint8)


def _block_mean(picture: U8, step: int) -> U8:
    if step == 1:
        return picture
    h, w = picture.shape[0] // step * step, picture.shape[1] // step * step
    blocks = picture[:h, :w].reshape(h // step, step, w // step, step, 3)
    return np.asarray(blocks.mean(axis=(1, 3)).astype(np.uint8))


def _levels_of(picture: U8, numbered: Array, regions: Array, count: int) -> Array:
    """Return how often each level of each channel comes in some of ``count`` regions, (regions, 3, 256) int64."""
    first = np.zeros(count + 1, np.intp)
    first[regions] = 256 * np.arange(1, len(regions) + 1)
    out = np.zeros((3, 256 * (len(regions) + 1)), np.int64)
    for band in row_bands(len(picture), max(1, COUNTED_PX // picture.shape[1])):
        rows = slice(band.start, band.stop)
        number = first[numbered[rows]]
        for c in range(3):
            out[c] += np.bincount((number + picture[rows, :, c]).ravel(), minlength=out.shape[1])
    return out.reshape(3, -1, 256)[:, 1:].transpose(1, 0, 2)


def _plateaus(picture: U8, numbered: Array, regions: Array, levels: Array, size: Array) -> Array:
    """Exact colours that hold a large share of their smooth region: flat colour with a tone running out of it.

    No colour comes more often than the rarest of its ``levels`` (regions, 3, 256): few are looked for.
    """
    from scipy import ndimage

    out = np.zeros(numbered.shape, bool)
    least = tuned.TONES.plateau_share * size[regions]
    often: Array = levels > least[:, None, None]
    some = np.flatnonzero(np.all(often.any(axis=2), axis=1))
    boxes = ndimage.find_objects(numbered) if some.size else []
    for k in some.tolist():
        box = boxes[regions[k] - 1]
        part = picture[box]
        here = numbered[box] == regions[k]
        for c in range(3):
            here &= often[k, c][part[..., c]]
        keys = pack(part)
        colours, counts = np.unique(keys[here], return_counts=True)
        for key in colours[counts > least[k]]:
            out[box] |= here & (keys == key)
    return out


def colour_cloud(colours: U8) -> tuple[Array, Array]:
    """Return linear colours and pixel counts of (n, 3) sRGB pixels: at most SAMPLE_COLOURS, coarser for richer ones."""
    keys, counts = np.unique(pack(colours), return_counts=True)
    rgb = unpack(keys)
    for drop in range(1, 6):
        if len(keys) <= SAMPLE_COLOURS:
            break
        coarse = pack((rgb >> drop) << drop)
        keys, inverse = np.unique(coarse, return_inverse=True)
        total = np.bincount(inverse, counts.astype(np.float64))
        mean = np.stack([np.bincount(inverse, rgb[:, c] * counts) / total for c in range(3)], axis=1)
        if len(keys) <= SAMPLE_COLOURS:
            return np.asarray(linear_of(np.rint(mean).astype(np.uint8))), total
    return np.asarray(linear_of(rgb)), counts.astype(np.float64)


def linear_of(rgb: Array) -> Array:
    """Return float64 linear light of uint8 sRGB."""
    return linear_table()[rgb].astype(np.float64)


def tone_ends(cloud: Array, weight: Array, fixed: Array, *, count: int | None, pixel_mm2: float) -> Array:
    """Return (n, 3) linear end colours besides ``fixed`` (garment, flat inks): ``count``, or as few as do.

    weight: (n,) pixels of each colour of the cloud, ``pixel_mm2`` each. Without a count no end is found for less than
    ``ToneInks.least_mm2`` of it, unless there is no other.
    """
    ends = fixed.copy()
    most = tuned.TONE_INKS.most if count is None else count
    while len(ends) - len(fixed) < most:
        error = _errors(cloud, ends)
        if count is None and _good(error, weight):
            break
        pick = int((error**2 * np.sqrt(weight)).argmax())
        if error[pick] <= 0:
            break
        ends = np.vstack([ends, cloud[pick]])
        ends = _refine(cloud, weight, ends, len(fixed))
    if count is None:
        ends = _without_small(cloud, weight * pixel_mm2, ends, len(fixed))
    return _without_twins(cloud, weight, ends, len(fixed))[len(fixed) :]


def _without_small(cloud: Array, mm2: Array, ends: Array, fixed: int) -> Array:
    """Drop the free ends, the smallest first, that cover less than END_MM2 even in the place of those dropped."""
    while len(ends) > max(fixed, 2):
        covered = (mix_shares(cloud, ends)[:, fixed:] * mm2[:, None]).sum(0)
        least = int(covered.argmin())
        if covered[least] >= tuned.TONE_INKS.least_mm2:
            break
        ends = _refine(cloud, mm2, np.delete(ends, fixed + least, axis=0), fixed)
    return ends


def _without_twins(cloud: Array, weight: Array, ends: Array, fixed: int) -> Array:
    """Drop free ends that the eye takes for another end, unless the tones are matched clearly worse without."""
    inks = tuned.TONE_INKS
    kept = 0  # ends proved worth their screen, from the last one back
    while len(ends) - kept > fixed:
        last = len(ends) - 1 - kept
        lab = linear_to_lab(ends)
        others = np.delete(lab, last, axis=0)
        if len(others) and delta_e_2000(others, lab[last]).min() < inks.twin_de00:
            fewer = _refine(cloud, weight, np.delete(ends, last, axis=0), fixed)
            if _mean(cloud, weight, fewer) < _mean(cloud, weight, ends) + inks.twin_gain_de00:
                ends, kept = fewer, 0
                continue
        kept += 1
    return ends


def _mean(cloud: Array, weight: Array, ends: Array) -> float:
    return float((_errors(cloud, ends) * weight).sum() / weight.sum())


def _errors(cloud: Array, ends: Array) -> Array:
    return _errors_of(mix_shares(cloud, ends), cloud, ends)


def _errors_of(shares: Array, cloud: Array, ends: Array) -> Array:
    return np.asarray(delta_e_2000(linear_to_lab(shares @ ends), linear_to_lab(cloud)))


def _good(error: Array, weight: Array) -> bool:
    order = np.argsort(error)
    total = np.cumsum(weight[order])
    good = tuned.TONE_INKS
    p95 = error[order[min(np.searchsorted(total, 0.95 * total[-1]), len(order) - 1)]]
    return bool((error * weight).sum() / weight.sum() < good.good_mean_de00 and p95 < good.good_p95_de00)


def _refine(cloud: Array, weight: Array, ends: Array, fixed: int) -> Array:
    """Move the free ends to where the mixed colours err least, by alternating least squares inside the gamut."""
    if len(ends) == fixed:
        return ends
    shares = mix_shares(cloud, ends)
    best, best_error = ends, float((_errors_of(shares, cloud, ends) ** 2 * weight).sum())
    for _ in range(6):
        wide = shares.astype(np.float64)
        scale = weight / (0.02 + cloud @ np.array([0.2126, 0.7152, 0.0722])) ** (4 / 3)  # towards equal lightness steps
        free, held = wide[:, fixed:], wide[:, :fixed]
        left = free.T * scale
        ridge = 1e-6 * scale.sum() * np.eye(free.shape[1])
        right = left @ (cloud - held @ ends[:fixed]) + ridge @ ends[fixed:]
        ends = ends.copy()
        ends[fixed:] = np.clip(np.linalg.solve(left @ free + ridge, right), 0, 1)
        shares = mix_shares(cloud, ends)
        error = float((_errors_of(shares, cloud, ends) ** 2 * weight).sum())
        if error < best_error:
            best, best_error = ends, error
    return best


def to_rgb8(linear: Array) -> RGB8:
    """Return the 8-bit sRGB of one linear colour."""
    r, g, b = (int(v) for v in np.rint(linear_to_srgb(linear) * 255))
    return r, g, b


def unrounded(picture: U8, mask: Array) -> Array:
    """Return (n, 3) float32 levels of the pixels in a (h, w) mask as they may have been before rounding to 8 bits.

    A smooth ramp is the mean of its surroundings; that is believed as far as rounding allows, half a level. Two near
    inks else turn each step of one level into many levels of their shares. Edges and texture stay as they are.
    """
    from scipy import ndimage

    out, reach = [np.zeros((0, 3), np.float32)], tuned.TONE_INKS.calm_px
    for band in row_bands(len(picture), STRIP_ROWS, halo=2 * reach):
        here = mask[band.start : band.stop]
        if not here.any():
            continue
        whole, size = picture[band.outer_start : band.outer_stop], 2 * reach + 1
        mean = mean_of_whole(whole, reach, axis=0)
        for axis in (1, 0, 1):
            mean = ndimage.uniform_filter1d(mean, size, axis=axis, mode="nearest")
        part = whole.astype(np.float32)
        out.append(pixels_where(np.clip(mean, part - 0.5, part + 0.5)[band.inner], here))
    return np.concatenate(out)


def shares_of_pixels(colours: Array, ends: Array) -> U8:
    """Return (n, k) uint8 shares of linear ``ends`` for (n, 3) sRGB pixels, in levels or fractions of them.

    ``ends[0]`` is the garment.
    """

    def solve(levels: Array) -> Array:
        points = np.interp(levels, np.arange(256), linear_table())
        return with_plain_tints(mix_shares(points, ends), points, ends)

    if colours.dtype == np.uint8:
        keys, place = distinct(pack(colours))
        return np.asarray(shares_by_colour(unpack(keys), solve)[place])
    return shares_by_colour(np.clip(colours, 0, 255), solve)


def with_plain_tints(shares: Array, points: Array, ends: Array) -> Array:
    """Return (n, k) shares in which colours that one ink makes alone with the garment, ``ends[0]``, are made so.

    Four coloured inks can mix a grey shadow as exactly as black can: a printer takes black. Within ``plain_de`` of such
    a tint the tint is taken, beyond ``plain_end_de`` the mixture, and between them a blend, so that tones stay even.
    """
    if len(ends) < 3:
        return shares
    plain_at = tuned.TONE_INKS
    ground = ends[0]
    lab, lab_ground = linear_to_lab(points), linear_to_lab(ground)
    reach = _length(lab - lab_ground)
    tints = np.empty((len(points), len(ends) - 1))
    away = np.empty_like(tints)
    for k, ink in enumerate(ends[1:] - ground):
        tints[:, k] = np.clip((points - ground) @ ink / max(float(ink @ ink), 1e-12), 0, 1)
        away[:, k] = _length(lab - linear_to_lab(ground + tints[:, k : k + 1] * ink))
    inks = np.sort(shares[:, 1:], axis=1)
    covered = np.maximum(total(inks), 1e-6)
    second = np.clip(inks[:, -2] / covered / plain_at.plain_share, 0, 1)
    third = np.clip(inks[:, -3] / covered / plain_at.plain_share, 0, 1) if len(ends) > 3 else np.zeros(len(points))
    near = plain_at.plain_de + (plain_at.plain_three_de - plain_at.plain_de) * third[:, None]
    far = plain_at.plain_end_de + (plain_at.plain_three_end_de - plain_at.plain_end_de) * third[:, None]
    worth = np.clip((far - away) / (far - near), 0, 1)
    lead = (greatest(worth) * second)[:, None]
    # Near the garment all tints are near: there the direction tells which ink it is.
    aside = away / (0.5 + reach)[:, None]
    worth = worth**2 * np.clip(1 - (aside - least(aside)[:, None]) / plain_at.plain_aside, 0, 1)
    part = worth / np.maximum(total(worth)[:, None], 1e-12) * tints
    plain = np.column_stack([1 - total(part), part])
    return np.asarray((1 - lead) * shares + lead * plain, np.float32)


def _length(ways: Array) -> Array:
    return np.asarray(np.sqrt(total(ways * ways)))
