"""The sheet of paper in a picture: its corners, its proportions, and the sheet laid flat.

In: sRGB (h, w, 3). Out: Sheet with corners in pixels, clockwise from the top left, and the straightened sRGB.
Proportions follow Zhang and He, "Whiteboard scanning and image enhancement", Digital Signal Processing 17 (2007), with
the focal length taken as a phone's: near-frontal pictures say nothing of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table
from sepkit.intake import tuned
from sepkit.intake.cut_sheet import seen_rectangle
from sepkit.intake.light import beside_as_paper

if TYPE_CHECKING:
    from sepkit.model import F32, F64, U8, Bool

SMALL_PX = 480
"""Long side of the picture in which the sheet is looked for."""
STANDARD = {"A": 2**0.5, "Letter": 11 / 8.5, "9 x 12 in": 4 / 3, "square": 1.0}
"""Long over short side: ISO 216, ANSI/ASME Y14.1 A, drawing pads, square blocks."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A sheet of paper in a picture."""

    corners: F64
    """(4, 2) x, y of top left, top right, bottom right, bottom left."""
    aspect: float
    """Height over width."""
    proportions: str
    """The standard it has, or empty."""
    whole: bool
    """Whether it fills the picture, so that no edge of it is seen."""
    cut: bool
    """Whether a side of it lies outside the picture."""
    flat: bool = True
    """Whether it is laid flat: not when more than a side is missing."""


def find_sheet(rgb: U8) -> Sheet | None:
    """Return the sheet of paper in a picture; None when nothing in it looks like one."""
    height, width = rgb.shape[:2]
    step = max(1.0, max(height, width) / SMALL_PX)
    small = _small(rgb, step)
    region = _paper_region(small)
    if region is None:
        return None
    border = np.concatenate([region[1], region[-2], region[:, 1], region[:, -2]])
    frame = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float64)
    if border.mean() >= tuned.SHEET.whole_border:
        return Sheet(frame, height / width, "", whole=True, cut=False)
    corners = _four_corners(region)
    if corners is None:
        return None
    scale = np.array([width / small.shape[1], height / small.shape[0]])
    corners = _ordered(corners) * scale
    touches = _sides_on_frame(corners, (width, height))
    if touches.any():
        seen = _of_three_sides(rgb, corners, touches)
        if seen is not None:
            return Sheet(seen, ratio_of(seen, (width, height)), "", whole=False, cut=True)
        inside = np.clip(corners, 0, [width, height])
        return Sheet(inside, height / width, "", whole=False, cut=True, flat=False)
    corners = _refined(rgb, corners)
    aspect, name = proportions(corners, (width, height))
    return Sheet(corners, aspect, name, whole=False, cut=False)


def straightened(rgb: U8, sheet: Sheet) -> U8:
    """Return the sheet alone, laid flat, without the rim of its edge; the picture itself where that is the sheet.

    A sheet that cannot be laid flat keeps its shape, and all beside it is painted as paper in the light there.
    """
    from PIL import Image

    if sheet.whole:
        return rgb
    if not sheet.flat:
        return _painted_out(rgb, sheet)
    c = sheet.corners
    across = max(np.linalg.norm(c[1] - c[0]), np.linalg.norm(c[2] - c[3]))
    down = max(np.linalg.norm(c[3] - c[0]), np.linalg.norm(c[2] - c[1]))
    width = round(float(max(across, down / sheet.aspect)))
    height = round(width * sheet.aspect)
    inset = tuned.SHEET.inset_share * max(width, height)
    target = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float64) - inset
    size = (int(width - 2 * inset), int(height - 2 * inset))
    data = tuple(homography(target, c).ravel()[:8])
    picture = Image.fromarray(rgb).transform(size, Image.Transform.PERSPECTIVE, data, Image.Resampling.BICUBIC)
    return np.asarray(picture)


def homography(source: F64, target: F64) -> F64:
    """Return the (3, 3) projective map of four points onto four others, its last number 1."""
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows, np.float64), np.array(right, np.float64)), 1.0).reshape(3, 3)


def proportions(corners: F64, size: tuple[int, int]) -> tuple[float, str]:
    """Return height over width of the sheet with these corners, and the standard it is near to."""
    found = ratio_of(corners, size)
    upright = max(found, 1 / found)
    name, near = min(STANDARD.items(), key=lambda item: abs(item[1] / upright - 1))
    if abs(near / upright - 1) > tuned.SHEET.standard_share:
        return found, ""
    return (near if found >= 1 else 1 / near), name


def ratio_of(corners: F64, size: tuple[int, int]) -> float:
    """Return height over width of the rectangle with these corners, as a phone's lens sees them."""
    focal = tuned.SHEET.camera_focal * max(size)
    middle = np.array(size, np.float64) / 2
    one, two, four, three = (np.append((c - middle) / focal, 1.0) for c in corners)
    k2 = np.dot(np.cross(one, four), three) / np.dot(np.cross(two, four), three)
    k3 = np.dot(np.cross(one, four), two) / np.dot(np.cross(three, four), two)
    across, down = np.linalg.norm(k2 * two - one), np.linalg.norm(k3 * three - one)
    return float(down / across)


def _small(rgb: U8, step: float) -> F32:
    """Return linear light of the picture averaged down."""
    from PIL import Image

    height, width = rgb.shape[:2]
    size = (max(8, round(width / step)), max(8, round(height / step)))
    return np.asarray(linear_table()[np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BOX))])


def _paper_region(small: F32) -> Bool | None:
    """Return where the sheet lies: the brightest, least coloured smooth region that is large enough."""
    from scipy import ndimage

    limits = tuned.SHEET
    stops = np.log2(small + 0.01)
    wide = max(3, 2 * round(limits.stroke_share * max(small.shape[:2]) / 2) + 1)
    closed = np.stack([ndimage.grey_closing(stops[..., k], (wide, wide), mode="nearest") for k in range(3)], -1)
    steep = np.max([ndimage.gaussian_gradient_magnitude(closed[..., k], 1.0, mode="nearest") for k in range(3)], axis=0)
    parts, count = ndimage.label(steep < limits.edge_stops)
    sizes = np.bincount(parts.ravel(), minlength=count + 1)
    best, score = None, -np.inf
    for part in np.flatnonzero(sizes >= limits.least_share * parts.size):
        if part == 0:
            continue
        inside = parts == part
        light = np.median(closed[inside], axis=0)
        points = float(light.mean()) - float(np.ptp(light)) / 2
        if points > score:
            best, score = inside, points
    if best is None:
        return None
    return np.asarray(ndimage.binary_fill_holes(ndimage.binary_opening(np.pad(best, 3, mode="edge"), iterations=2)))[
        3:-3, 3:-3
    ]


def _four_corners(region: Bool) -> F64 | None:
    """Return the four corners round a region; None when it is no quadrangle."""
    y, x = np.nonzero(region)
    if len(y) < 50:
        return None
    rows, first = np.unique(y, return_index=True)  # pixels stand row by row
    last = np.append(first[1:], len(y)) - 1
    ends = np.concatenate([np.stack([x[first], rows], axis=1), np.stack([x[last] + 1, rows], axis=1)])
    hull = _hull(np.concatenate([ends, ends + np.array([0, 1])]).astype(np.float64))
    while len(hull) > 4:
        hull = _one_side_less(hull)
    area = _area(hull)
    if area <= 0 or region.sum() / area < tuned.SHEET.filled_share:
        return None
    return np.asarray(hull)


def _hull(points: F64) -> F64:
    """Return the corners of the least convex polygon round points, counter-clockwise with y up.

    Andrew's monotone chain (Inform. Process. Lett. 9, 1979): 0.03 s here, where SciPy's takes 0.16 s to load.
    """
    order = np.unique(points, axis=0)
    sides = []
    for way in (order, order[::-1]):
        chain: list[F64] = []
        for point in way:
            while len(chain) > 1 and _cross(chain[-1] - chain[-2], point - chain[-2]) <= 0:
                chain.pop()
            chain.append(point)
        sides += chain[:-1]
    return np.array(sides)


def _one_side_less(hull: F64) -> F64:
    """Return a convex polygon without the side whose neighbours, made longer, add the least area."""
    n = len(hull)
    best, grown = None, np.inf
    for k in range(n):
        a, b, c, d = hull[k - 1], hull[k], hull[(k + 1) % n], hull[(k + 2) % n]
        meet = _meeting(a, b, c, d)
        if meet is None or np.dot(meet - b, b - a) < 0:
            continue
        more = abs(_cross(meet - b, c - b)) / 2
        if more < grown:
            best, grown = (k, meet), more
    if best is None:
        return np.asarray(hull[np.linspace(0, n - 1, 4).astype(int)])
    k, meet = best
    out = np.delete(hull, (k + 1) % n, axis=0)
    out[k if (k + 1) % n else k - 1] = meet
    return out


def _meeting(a: F64, b: F64, c: F64, d: F64) -> F64 | None:
    """Return where the lines a-b and c-d meet; None for parallels."""
    one, two = b - a, d - c
    turn = _cross(one, two)
    if abs(turn) < 1e-9:
        return None
    return np.asarray(a + one * (_cross(c - a, two) / turn))


def _cross(a: F64, b: F64) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _area(polygon: F64) -> float:
    x, y = polygon.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def _ordered(corners: F64) -> F64:
    """Return corners clockwise from the top left, y down."""
    away = corners - corners.mean(axis=0)
    turned = corners[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
    first = int(np.argmin(turned.sum(axis=1)))
    return np.asarray(np.roll(turned, -first, axis=0))


def _sides_on_frame(corners: F64, size: tuple[int, int]) -> Bool:
    """Tell which sides lie along the picture's border, or beyond it."""
    near = 0.012 * max(size)
    out = []
    for k in range(4):
        pair = np.stack([corners[k], corners[(k + 1) % 4]])
        x, y = pair[:, 0], pair[:, 1]
        out.append(
            bool((x < near).all() or (x > size[0] - near).all() or (y < near).all() or (y > size[1] - near).all())
        )
    beyond = ((corners < -near) | (corners > np.array(size) + near)).any()
    return np.array([*out, bool(beyond)])


def _of_three_sides(rgb: U8, corners: F64, touches: Bool) -> F64 | None:
    """Return the corners of what is seen of a sheet that one border of the picture cuts; None where more is cut."""
    if touches[:4].sum() != 1:
        return None
    k = int(np.flatnonzero(touches)[0])
    low_left, low_right, right, left = (corners[(k + n) % 4] for n in range(4))
    middle, size = corners.mean(axis=0), (rgb.shape[1], rgb.shape[0])
    one, top, other = (_side(rgb, a, b, middle) for a, b in ((left, low_left), (left, right), (right, low_right)))
    border = _border_near((low_left + low_right) / 2, size)
    ends = [_meeting(*line, *border) for line in (one, other)]
    if ends[0] is None or ends[1] is None:
        return None
    seen = seen_rectangle((one[0], ends[0]), top, (other[0], ends[1]), size)
    return None if seen is None else np.asarray(np.roll(seen, k, axis=0))


def _border_near(point: F64, size: tuple[int, int]) -> tuple[F64, F64]:
    """Return two points of the picture's border nearest to a point."""
    width, height = size
    frame = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float64)
    away = [point[1], width - point[0], height - point[1], point[0]]
    side = int(np.argmin(away))
    return frame[side], frame[(side + 1) % 4]


def _refined(rgb: U8, corners: F64) -> F64:
    """Return the corners again, each side laid through the steepest steps across it in all pixels."""
    sides = [_side(rgb, corners[k], corners[(k + 1) % 4], corners.mean(axis=0)) for k in range(4)]
    out = []
    for k in range(4):
        (a, b), (c, d) = sides[k - 1], sides[k]
        meet = _meeting(a, b, c, d)
        out.append(corners[k] if meet is None else meet)
    moved = np.array(out)
    far = np.linalg.norm(moved - corners, axis=1).max() > 3 * tuned.SHEET.search_share * max(rgb.shape)
    return corners if far else moved


def _side(rgb: U8, a: F64, b: F64, middle: F64) -> tuple[F64, F64]:
    """Return two points of the line along which the picture steps from table to paper near a-b."""
    from scipy.ndimage import gaussian_filter1d, map_coordinates

    reach = max(4, round(tuned.SHEET.search_share * max(rgb.shape)))
    way = (b - a) / np.linalg.norm(b - a)
    inward = np.array([-way[1], way[0]])
    inward = inward if np.dot(middle - a, inward) > 0 else -inward
    along = np.linspace(0.06, 0.94, 160)[:, None] * (b - a) + a
    offsets = np.arange(-reach, reach + 1)
    at = along[:, None] + offsets[None, :, None] * inward
    light = sum(
        map_coordinates(rgb[..., k].astype(np.float32), [at[..., 1] - 0.5, at[..., 0] - 0.5], order=1, mode="nearest")
        for k in range(3)
    )
    rise = np.gradient(gaussian_filter1d(np.asarray(light), 1.5, axis=1), axis=1)
    best = rise.argmax(axis=1)
    rows = np.arange(len(best))
    inner = np.clip(best, 1, rise.shape[1] - 2)
    left, top, right = rise[rows, inner - 1], rise[rows, inner], rise[rows, inner + 1]
    bend = left - 2 * top + right
    exact = inner + np.where(np.abs(bend) > 1e-6, (left - right) / (2 * np.where(bend == 0, 1, bend)), 0)
    t = np.linspace(0.06, 0.94, 160)
    keep = top > 0.3 * np.median(top)
    for _ in range(6):
        if keep.sum() < 12:
            return a, b
        slope, start = np.polyfit(t[keep], exact[keep], 1)
        away = np.abs(exact - (slope * t + start))
        keep = away <= max(0.6, 2.5 * float(np.median(away[keep])))
    ends = [float(slope * end + start) - reach for end in (0.0, 1.0)]
    return a + ends[0] * inward, b + ends[1] * inward


def _painted_out(rgb: U8, sheet: Sheet) -> U8:
    from PIL import Image, ImageDraw

    mask = Image.new("L", (rgb.shape[1], rgb.shape[0]), 0)
    middle = sheet.corners.mean(axis=0)
    inner = middle + (sheet.corners - middle) * (1 - 2 * tuned.SHEET.inset_share)
    ImageDraw.Draw(mask).polygon([(float(x), float(y)) for x, y in inner], fill=255)
    inside = np.asarray(mask) > 0
    return beside_as_paper(rgb, inside)
