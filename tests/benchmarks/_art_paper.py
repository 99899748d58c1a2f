"""Invented drawings on paper as they are photographed, with exact truth: strokes, sheet, light, lens, sensor, JPEG.

:func:`photographed` draws one from a seed. The sheet is drawn at 8 px/mm, lit in linear light, seen through a
homography onto a table, blurred, made noisy, developed and compressed. Truth is the drawn mask of each pen in mm of
the sheet. :func:`score` lays a result on it by a similarity alone, as a print may lie anywhere and be of any size.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np

from sepkit.model import Artwork
from tests.benchmarks._art import Kind, above, below

PX_PER_MM = 8
SHEETS_MM = ((210.0, 297.0), (148.0, 210.0), (215.9, 279.4), (228.6, 304.8), (190.0, 190.0))
INKS = {
    "black": (0.05, 0.05, 0.055),
    "blue": (0.05, 0.10, 0.42),
    "red": (0.55, 0.05, 0.05),
    "green": (0.05, 0.30, 0.10),
}
PENCIL = (0.24, 0.24, 0.245)
WORDS = ("rowing", "LANTERN", "No. 7", "harbour", "12 oars", "est. west", "Regatta")


@dataclass(frozen=True, eq=False)
class Photographed:
    """A picture of a drawing, and what was drawn."""

    rgb: np.ndarray
    masks: np.ndarray
    """(pens, h, w) bool at PX_PER_MM on the sheet."""
    pens: tuple[str, ...]
    shaded: bool
    corners: np.ndarray
    """(4, 2) of the sheet in the picture, px."""
    size_mm: tuple[float, float]


def photographed(seed, *, long_px=2000):
    """Return a drawing photographed on a table."""
    rng = np.random.default_rng([seed, 411])
    width_mm, height_mm = SHEETS_MM[int(rng.choice(5, p=(0.45, 0.2, 0.2, 0.1, 0.05)))]
    if rng.random() < 0.4:
        width_mm, height_mm = height_mm, width_mm
    several = rng.random() < 0.25
    names = (
        ("black", *rng.choice(("red", "blue", "green"), int(rng.integers(1, 3)), replace=False))
        if several
        else (str(rng.choice(("black", "black", "black", "blue", "pencil"))),)
    )
    masks = _drawn(rng, (width_mm, height_mm), len(names))
    names = tuple(name for name, mask in zip(names, masks, strict=True) if mask.sum() > 12 * PX_PER_MM**2)
    masks = np.stack([mask for mask in masks if mask.sum() > 12 * PX_PER_MM**2])
    shaded = len(names) == 1 and rng.random() < 0.2
    sheet = _sheet(rng, masks, names, shaded)
    picture, corners = _on_table(rng, sheet, long_px)
    return Photographed(_developed(rng, picture), masks, names, shaded, corners, (width_mm, height_mm))


def _drawn(rng, size_mm, pens):
    """Return (pens, h, w) bool: strokes, rings, lettering, dots, fills; where pens cross, the later one lies on top."""
    from PIL import Image, ImageDraw, ImageFont

    shape = (round(size_mm[1] * PX_PER_MM), round(size_mm[0] * PX_PER_MM))
    label = Image.new("L", (shape[1], shape[0]), 0)
    draw = ImageDraw.Draw(label)
    centre, spread = np.array(shape[::-1]) / 2, np.array(shape[::-1]) * 0.33
    base = rng.uniform(0.45, 1.4)
    for n in range(int(rng.integers(10, 26))):
        pen = 1 + n % pens
        at = centre + rng.uniform(-1, 1, 2) * spread
        size = rng.uniform(8, 45) * PX_PER_MM
        wide = base * rng.uniform(0.85, 1.5) * PX_PER_MM
        kind = int(rng.integers(7))
        if kind <= 2:
            _stroke(draw, rng, at, size, wide, pen, shape)
        elif kind == 3:
            turn = np.linspace(0, 2 * np.pi, 200)
            points = at + np.stack([np.cos(turn) * size * 0.4, np.sin(turn) * size * rng.uniform(0.2, 0.4)], 1)
            _line(draw, points, np.full(200, wide), pen)
        elif kind == 4:
            font = ImageFont.load_default(rng.uniform(5, 14) * PX_PER_MM)
            draw.text(tuple(at - (size / 2, 0)), WORDS[int(rng.integers(len(WORDS)))], fill=pen, font=font)
        elif kind == 5:
            turn = np.sort(rng.uniform(0, 2 * np.pi, 8))
            reach = size * rng.uniform(0.1, 0.3, 8)
            draw.polygon([*zip(at[0] + reach * np.cos(turn), at[1] + reach * np.sin(turn), strict=True)], fill=pen)
        else:
            for k in range(9):
                r = rng.uniform(0.35, 0.9) * PX_PER_MM
                x, y = at[0] + k * 3.2 * PX_PER_MM, at[1] + rng.uniform(-1, 1) * PX_PER_MM
                draw.ellipse((x - r, y - r, x + r, y + r), fill=pen)
    inside = np.asarray(label).copy()
    edge = round(9 * PX_PER_MM)
    inside[:edge] = inside[-edge:] = 0
    inside[:, :edge] = inside[:, -edge:] = 0
    return np.stack([inside == k + 1 for k in range(pens)])


def _stroke(draw, rng, at, size, wide, pen, shape):
    """A curve through a few points, its width changing with the hand."""
    knots = at + rng.normal(0, 0.5, (5, 2)) * size
    knots = np.clip(knots, [0, 0], shape[::-1])
    points = []
    for k in range(1, 3):
        a, b, c, d = knots[k - 1 : k + 3]
        t = np.linspace(0, 1, 120)[:, None]
        points.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    points = np.concatenate(points)
    along = np.linspace(0, 1, len(points))
    _line(draw, points, wide * (1 + 0.3 * np.sin(2 * np.pi * (along + rng.random()))), pen)


def _line(draw, points, wide, pen):
    for k in range(len(points) - 1):
        draw.line((*points[k], *points[k + 1]), fill=pen, width=max(2, round(wide[k])))
        r = wide[k] / 2
        draw.ellipse((points[k][0] - r, points[k][1] - r, points[k][0] + r, points[k][1] + r), fill=pen)


def _sheet(rng, masks, names, shaded):
    """Return linear light (h, w, 3) of the drawn sheet under even light: paper with grain, ink with its unevenness."""
    from scipy import ndimage

    shape = masks.shape[1:]
    tint = np.array([1.0, 1.0, 1.0]) if rng.random() < 0.6 else np.array([1.0, 0.965, rng.uniform(0.80, 0.92)])
    paper = rng.uniform(0.72, 0.88) * tint
    fine = ndimage.gaussian_filter(rng.normal(size=shape).astype(np.float32), 1.2)
    coarse = ndimage.zoom(rng.normal(size=(shape[0] // 16 + 2, shape[1] // 16 + 2)).astype(np.float32), 16, order=1)
    grain = 1 + rng.uniform(0.002, 0.012) * fine / fine.std() + 0.004 * coarse[: shape[0], : shape[1]]
    seen = paper * grain[..., None]
    if shaded:
        patch = np.zeros(shape, np.float32)
        y, x = np.mgrid[: shape[0], : shape[1]]
        cy, cx = rng.uniform(0.35, 0.65, 2) * shape
        reach = rng.uniform(15, 30) * PX_PER_MM
        patch = np.clip(1.6 * (1 - np.hypot((x - cx) / reach, (y - cy) / reach / 0.7)), 0, 1)
        seen *= (1 - rng.uniform(0.25, 0.4) * patch * (0.85 + 0.15 * fine / fine.std()))[..., None]
    edge = 1.0 if "pencil" not in names else 1.6
    for mask, name in zip(masks, names, strict=True):
        ink = np.array(PENCIL if name == "pencil" else INKS[name]) * rng.uniform(0.8, 1.25)
        cover = ndimage.gaussian_filter(mask.astype(np.float32), 0.35 * edge)
        if name == "pencil":
            cover = cover * np.clip(0.93 + 0.06 * fine / fine.std(), 0, 1)
        seen = seen * (1 - cover[..., None]) + paper * ink * cover[..., None]
    return np.asarray(seen, np.float32)


def _on_table(rng, sheet, long_px):
    """Return linear light of the picture, and the sheet's corners in it."""
    from PIL import Image
    from scipy import ndimage

    height, width = sheet.shape[:2]
    landscape = width > height
    size = (long_px, long_px * 3 // 4) if landscape else (long_px * 3 // 4, long_px)
    table = _table(rng, size)
    fills = rng.random() < 0.12  # a scan of all but the sheet's rim: no table at all
    margin = -0.03 if fills else rng.uniform(0.04, 0.12)
    room = np.array(size) * (1 - 2 * margin)
    scale = (room / (width, height)).max() if fills else (room / (width, height)).min()
    flat = np.array([(-width, -height), (width, -height), (width, height), (-width, height)], float) / 2 * scale
    turn = 0.0 if fills else np.deg2rad(rng.uniform(-7, 7))
    tilt = np.zeros(2) if fills else np.deg2rad(rng.uniform(-16, 16, 2))  # no edge would tell the tilt of a scan
    spun = flat @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    focal = rng.uniform(0.70, 0.82) * long_px
    deep = spun @ np.sin(tilt)
    corners = spun * np.cos(tilt) * (focal / (focal + deep))[:, None]
    middle = np.array(size) / 2
    if not fills:
        over = np.abs(corners / (middle * 0.985)).max()
        corners = corners / max(1.0, over)
    corners = corners + middle
    source = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    data = tuple(_homography(corners, source).ravel()[:8])
    flatter = ndimage.gaussian_filter(sheet, (0.45, 0.45, 0))
    warped = [
        np.asarray(
            Image.fromarray(flatter[..., k]).transform(
                size, Image.Transform.PERSPECTIVE, data, Image.Resampling.BICUBIC
            )
        )
        for k in range(3)
    ]
    mask = Image.new("F", (width, height), 1.0).transform(
        size, Image.Transform.PERSPECTIVE, data, Image.Resampling.BILINEAR
    )
    cover = np.asarray(mask)[..., None]
    if not fills:
        under = ndimage.gaussian_filter(np.roll(cover[..., 0], (6, 5), (0, 1)), 5)[..., None]
        table = table * (1 - 0.35 * under)
    picture = np.stack(warped, -1) * cover + table * (1 - cover)
    return picture * _light(rng, size)[..., None] * rng.uniform((0.9, 0.95, 0.8), (1.05, 1.0, 1.05)), corners


def _table(rng, size):
    """Return linear light of a table: wood, dark, grey, or cloth."""
    from scipy import ndimage

    kind = int(rng.integers(4))
    noise = rng.normal(size=(size[1], size[0])).astype(np.float32)
    if kind == 0:
        grainy = ndimage.gaussian_filter(noise, (1.0, 40.0))
        colour = np.array((0.42, 0.25, 0.12)) * rng.uniform(0.6, 1.2)
        return colour * np.clip(1 + 0.25 * grainy / grainy.std(), 0.2, 2)[..., None]
    if kind == 1:
        return np.full((size[1], size[0], 3), rng.uniform(0.02, 0.08)) * np.clip(1 + 0.1 * noise, 0.3, 2)[..., None]
    if kind == 2:
        return np.full((size[1], size[0], 3), rng.uniform(0.25, 0.42)) * np.clip(1 + 0.02 * noise, 0.3, 2)[..., None]
    weave = ndimage.gaussian_filter(noise, 1.5)
    colour = rng.uniform(0.05, 0.3, 3)
    return colour * np.clip(1 + 0.2 * weave / weave.std(), 0.2, 2)[..., None]


def _light(rng, size):
    """Return (h, w): a lamp to one side, falloff to the corners, and at times the soft shadow of a hand."""
    y, x = np.mgrid[: size[1], : size[0]].astype(np.float32)
    x, y = x / size[0] - 0.5, y / size[0] - size[1] / size[0] / 2
    turn = rng.uniform(0, 2 * np.pi)
    light = 1 + rng.uniform(0.1, 0.5) * (np.cos(turn) * x + np.sin(turn) * y) * 1.6
    light *= 1 - rng.uniform(0.1, 0.35) * (x**2 + y**2) * 2
    if rng.random() < 0.5:
        off, soft = rng.uniform(-0.3, 0.3), rng.uniform(0.025, 0.1)
        side = (np.cos(turn + 1) * x + np.sin(turn + 1) * y - off) / soft
        light *= 1 - rng.uniform(0.2, 0.5) / (1 + np.exp(-np.clip(side, -30, 30)))
    return np.clip(light, 0.15, 1.6)


def _developed(rng, picture):
    """Return 8-bit sRGB after lens, sensor, development and JPEG."""
    from PIL import Image
    from scipy import ndimage

    from sepkit.colorimetry.srgb import linear_to_srgb

    picture = ndimage.gaussian_filter(picture, (*2 * (rng.uniform(0.5, 1.1),), 0))
    picture = picture / np.percentile(picture, 99) * rng.uniform(0.75, 0.95)
    noise = rng.normal(size=picture.shape) * np.sqrt(np.maximum(picture, 0) * rng.uniform(2e-5, 2.5e-4) + 2e-6)
    encoded = linear_to_srgb(np.clip(picture + noise, 0, 1).astype(np.float32))
    curve = rng.uniform(0, 0.12)
    encoded = encoded + curve * np.sin(2 * np.pi * (encoded - 0.5)) / (2 * np.pi) * 1.0
    data = io.BytesIO()
    Image.fromarray(np.rint(np.clip(encoded, 0, 1) * 255).astype(np.uint8)).save(
        data, "JPEG", quality=int(rng.integers(80, 94)), subsampling=2
    )
    return np.asarray(Image.open(data).convert("RGB"))


def _homography(source, target):
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)


def score(case, drawing):
    """Return figures of a drawing against the truth; None where nothing was found.

    edge: share of the true outline with an outline of the result within 0.15 mm, after a similarity fit of the two.
    shape: the same after an affine fit, which forgives wrong proportions. specks: marks with no true mark near, in dm²
    of the sheet; lost: true marks of 0.4 mm and more that are not there.
    """
    from scipy import ndimage
    from scipy.spatial import cKDTree

    if drawing is None:
        return None
    found = np.maximum.reduce([pen.coverage for pen in drawing.pens]).astype(np.float32) / 255
    truth = case.masks.any(axis=0).astype(np.float32)
    outline_true, outline_found = _outline(truth) / PX_PER_MM, _outline(found)
    tree = cKDTree(outline_true)
    scale = np.ptp(outline_true, axis=0) / np.maximum(np.ptp(outline_found, axis=0), 1)
    moved = (outline_found - outline_found.min(0)) * scale + outline_true.min(0)
    some = outline_found[:: max(1, len(outline_found) // 6000)]
    at = moved[:: max(1, len(outline_found) // 6000)]
    shares, placed = {}, {}
    for kind in ("shape", "edge"):
        for _ in range(25):
            away, near = tree.query(at)
            keep = away <= max(0.1, 2.5 * np.median(away))
            fit = _fit(some[keep], outline_true[near[keep]], similar=kind == "edge")
            at = fit(some)
        placed[kind] = fit(outline_found)
        back = cKDTree(placed[kind])
        shares[kind] = float((back.query(outline_true)[0] <= 0.15).mean())
    away = tree.query(placed["shape"])[0]
    label, count = ndimage.label(found >= 0.5, np.ones((3, 3)))
    rows, columns = _outline_cells(found)
    nearest = np.full(count + 1, np.inf)
    np.minimum.at(nearest, label[rows, columns], away)
    specks = int((nearest[1:][np.isfinite(nearest[1:])] > 0.5).sum())
    sheet_dm2 = case.size_mm[0] * case.size_mm[1] / 1e4
    lost = _lost(truth, placed["shape"])
    return {
        "inks": len(drawing.pens),
        "right": len(drawing.pens) == len(case.pens),
        "edge": shares["edge"],
        "shape": shares["shape"],
        "specks": specks / sheet_dm2,
        "lost": lost,
    }


def _outline(plane):
    """Return (n, 2) x, y where a plane crosses a half between neighbours, to a part of a pixel."""
    points = []
    for axis in (0, 1):
        a = plane[:-1] if axis == 0 else plane[:, :-1]
        b = plane[1:] if axis == 0 else plane[:, 1:]
        rows, columns = np.nonzero((a >= 0.5) != (b >= 0.5))
        low, high = a[rows, columns], b[rows, columns]
        part = (0.5 - low) / (high - low)
        x, y = columns + 0.5, rows + 0.5
        points.append(np.stack([x, y + part] if axis == 0 else [x + part, y], 1))
    return np.concatenate(points)


def _outline_cells(plane):
    """Return row and column of the covered pixel beside each point of ``_outline``."""
    rows, columns = [], []
    for axis in (0, 1):
        a = plane[:-1] if axis == 0 else plane[:, :-1]
        b = plane[1:] if axis == 0 else plane[:, 1:]
        r, c = np.nonzero((a >= 0.5) != (b >= 0.5))
        second = b[r, c] >= 0.5
        rows.append(r + (second if axis == 0 else 0))
        columns.append(c + (second if axis == 1 else 0))
    return np.concatenate(rows), np.concatenate(columns)


def _fit(source, target, *, similar):
    """Return a map of points: the similarity, or the affine map, that lays source on target with least squares."""
    middle, goal = source.mean(0), target.mean(0)
    a, b = source - middle, target - goal
    if similar:
        one, other = a[:, 0] + 1j * a[:, 1], b[:, 0] + 1j * b[:, 1]
        turn = (other * one.conj()).sum() / (one * one.conj()).sum().real
        matrix = np.array([[turn.real, turn.imag], [-turn.imag, turn.real]])
    else:
        matrix = np.linalg.lstsq(a, b, rcond=None)[0]
    return lambda points: (points - middle) @ matrix + goal


def _lost(truth, outline_found):
    from scipy import ndimage
    from scipy.spatial import cKDTree

    label, count = ndimage.label(truth > 0.5, np.ones((3, 3)))
    sizes = np.bincount(label.ravel(), minlength=count + 1)
    tree, lost = cKDTree(outline_found), 0
    for k, box in enumerate(ndimage.find_objects(label), 1):
        if sizes[k] < np.pi * (0.2 * PX_PER_MM) ** 2:
            continue
        rows, columns = np.nonzero(label[box] == k)
        points = (
            np.stack([columns + box[1].start, rows + box[0].start], 1)[:: max(1, len(rows) // 40)] + 0.5
        ) / PX_PER_MM
        lost += int((tree.query(points)[0] > 2.0).all())
    return lost


def drawn(seed):
    """Return an Artwork of the picture, and its truth."""
    case = photographed(seed)
    width_mm, height_mm = case.size_mm
    whole = np.full(case.rgb.shape[:2], 255, np.uint8)
    return Artwork(case.rgb, whole, 0.75 * width_mm, 0.75 * height_mm, "drawn.jpg"), case


def figures(art, case):
    """Return the figures of a drawing, taken in as a print is."""
    from sepkit.intake.kinds import is_drawing_on_paper
    from sepkit.intake.paper import drawing_on_paper

    known = is_drawing_on_paper(art.rgb, art.alpha)
    row = score(case, drawing_on_paper(art.rgb, width_mm=art.width_mm, height_mm=None, shading=False))
    if row is None:
        return {"as paper": 100.0 * known, "found": 0.0, "count ok": 0.0}
    single = len(case.pens) == 1
    count = {"one ink" if single else "pens ok": 100.0 * row["right"]}
    met = {"edge ok": 100.0 * (row["edge"] >= 0.95), "edge": 100.0 * row["edge"], "shape": 100.0 * row["shape"]}
    told = {"as paper": 100.0 * known, "found": 100.0}
    return {**told, **count, **met, "paper specks": row["specks"], "lost": float(row["lost"])}


KINDS = (
    Kind(
        "paper",
        drawn,
        figures,
        {
            "refused": below(0),
            "as paper": above(98),
            "found": above(98),
            "one ink": above(98),
            "edge": above(95),
            "paper specks": below(1),
        },
    ),
)
