"""Simulated photographs of prints, with exact truth: press errors, cloth, light, camera, lens, JPEG.

A screen prints film point p at q = c + R(turn) (p - c) + (dx, dy), c the art's middle, mm on cloth. Cloth stretches and
folds, a camera looks at it (homography), a lens bends it. Colours are spectra: layer optics of inks that are a little
off, a measured camera's sensitivities under a lamp's spectrum (colour-science: CIE illuminants, NPL sensitivities),
white balance, the maker's matrix, a tone curve, sharpening, JPEG.
None of it is a real photograph: gloss, fibres that stand up, night modes and local tone curves are missing.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from PIL import Image
from scipy import ndimage as ndi

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.reference import colour_science
from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_xyz
from sepkit.colorimetry.srgb import XYZ_TO_RGB
from tests.helpers.printed_cloth import CLIP_MM, FILM_PX_MM, Printed

LAMPS = ("D65", "D50", "LED-B3", "LED-B4", "FL2")


@dataclass
class Screen:
    """What one screen did."""

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    turn_deg: float = 0.0
    growth_mm: float = 0.0
    coats: float = 1.0
    tint: float = 0.0


@dataclass
class Spot:
    """A pinhole (ink too much) or a void (ink missing), on its screen's film."""

    kind: str
    plate: int
    x_mm: float
    y_mm: float
    size_mm: float


@dataclass
class Shot:
    """All that is random in a photograph."""

    seed: int
    px_per_mm: float = 10.0
    screens: list = field(default_factory=list)
    spots: list = field(default_factory=list)
    tilt_deg: tuple = (0.0, 0.0)
    roll_deg: float = 0.0
    k1: float = 0.0
    stretch_mm: float = 0.3
    folds: int = 0
    fold_mm: float = 1.2
    gradient: tuple = (0.0, 0.0, 0.0)
    shadow: float = 0.0
    mixed: float = 0.0
    lamp: str = "D65"
    camera: int = 0
    balance: tuple = (1.0, 1.0, 1.0)
    blur_px: float = 0.7
    sharpen: float = 0.35
    lint: int = 0
    glare: float = 0.0
    around: float = 1.36
    aside: tuple = (0.0, 0.0)
    quality: int = 90
    broken_mm: float = 0.0
    broken_from_mm: float = 80.0
    """Lines above this, from the top of the films, hold: a wedge's tone steps are no lines."""
    chart: tuple | None = None
    """(x mm, y mm, pitch mm, degrees) of a chart of 24 patches that lies on the cloth; its first patch's middle."""


@dataclass
class Photograph:
    """The JPEG and the shot that it is of."""

    jpeg: bytes
    shot: Shot
    geometry: Geometry


def random_shot(printed: Printed, seed: int, *, px_per_mm=10.0, flat=True, sizes=(0.3, 0.5, 1.0, 2.0), each=3) -> Shot:
    """A photograph flat under even light, or as a phone gives by lamp light."""
    rng = np.random.default_rng(seed)
    wild = 0.5 if flat else 1.0
    shot = Shot(seed, px_per_mm)
    for k in range(len(printed.films)):
        off = np.clip(rng.normal(0, 0.3, 2), -0.9, 0.9) * (k > 0)
        shot.screens.append(
            Screen(
                *map(float, off),
                float(rng.normal(0, 0.08)) * (k > 0),
                float(rng.uniform(0.0, 0.14)),
                float(rng.uniform(0.85, 1.15)),
                float(rng.normal(0, 0.1)),
            )
        )
    shot.tilt_deg = tuple(rng.normal(0, 4.5 * wild, 2))
    shot.roll_deg = float(rng.normal(0, 4 * wild)) + (0 if flat else float(rng.choice([0, 0, 90, 180, 270])))
    shot.k1 = float(rng.uniform(-0.03, 0.03))
    shot.stretch_mm = float(rng.uniform(0.3, 1.5) * wild)
    shot.folds = 0 if flat else int(rng.integers(0, 3))
    shot.gradient = (*(float(v) for v in rng.normal(0, 0.15 * wild, 2)), float(rng.uniform(-0.15, 0) * wild))
    shot.shadow = 0.0 if flat else float(rng.uniform(0, 0.35))
    shot.mixed = float(rng.normal(0, 0.03 * wild))
    shot.lamp = "D65" if flat else str(rng.choice(LAMPS))
    shot.camera = int(rng.integers(0, 4))
    shot.balance = tuple(np.exp(rng.normal(0, 0.06, 3) * np.array([1, 0.2, 1])))
    shot.blur_px = float(rng.uniform(0.6, 1.0))
    shot.lint = int(rng.integers(0, 5)) if not flat else 0
    shot.spots = _spots(printed, rng, sizes, each)
    return shot


def _spots(printed: Printed, rng, sizes, each):
    """Spots away from all edges and each other, where they can be seen (ΔE00 above 10)."""
    labs, n, out = printed.labs(), len(printed.films), []
    margin = printed.margin_mm
    for size in sizes:
        for kind in ("pinhole", "void"):
            left = each
            for _ in range(3000):
                if not left:
                    break
                k = int(rng.integers(0, n))
                x, y = rng.uniform(0, printed.width_mm), rng.uniform(0, printed.height_mm)
                at = int((y + margin) * FILM_PX_MM), int((x + margin) * FILM_PX_MM)
                far = [float(film[at]) for film in printed.films]
                if any(abs(v) < min(size / 2 + 0.9, CLIP_MM - 0.05) for v in far) or (far[k] < 0) != (kind == "void"):
                    continue
                stack = sum(1 << i for i in range(n) if far[i] < 0)
                if delta_e_2000(labs[stack], labs[stack ^ (1 << k)]) < 10:
                    continue
                if any(np.hypot(x - s.x_mm, y - s.y_mm) < 4 + size for s in out):
                    continue
                out.append(Spot(kind, k, float(x), float(y), size))
                left -= 1
    return out


class Geometry:
    """Film, cloth and photograph, both ways."""

    def __init__(self, printed: Printed, shot: Shot) -> None:
        rng = np.random.default_rng(shot.seed + 5)
        self.shot, self.c = shot, printed.centre
        w, h = printed.width_mm, printed.height_mm
        self.waves = rng.normal(0, 1, (6, 2))
        self.waves *= (1 / rng.uniform(110, 260, 6) / np.hypot(*self.waves.T))[:, None]
        self.reach = rng.normal(0, 1, (6, 2)) * shot.stretch_mm / np.sqrt(3) / 1.4
        self.phase = rng.uniform(0, 6.28, 6)
        self.folds = []
        for _ in range(shot.folds):
            a = rng.uniform(0, 3.14)
            way = np.array([np.cos(a), np.sin(a)])
            at = float(rng.uniform(-0.4, 0.4) * max(w, h))
            self.folds.append((way, at, rng.uniform(8, 16), rng.uniform(0.25, 1) * shot.fold_mm))
        r = shot.px_per_mm
        size = np.array([w, h]) * shot.around * r
        if round(shot.roll_deg / 90) % 2:
            size = size[::-1]
        self.size = int(size[0]), int(size[1])
        f = 0.75 * max(*self.size, 1.1 * r * 200)
        tx, ty, rz = np.radians([*shot.tilt_deg, shot.roll_deg])
        rx = np.array([[1, 0, 0], [0, np.cos(tx), -np.sin(tx)], [0, np.sin(tx), np.cos(tx)]])
        ry = np.array([[np.cos(ty), 0, np.sin(ty)], [0, 1, 0], [-np.sin(ty), 0, np.cos(ty)]])
        turn = np.array([[np.cos(rz), -np.sin(rz), 0], [np.sin(rz), np.cos(rz), 0], [0, 0, 1]])
        way = rx @ ry @ turn
        off = (rng.uniform(-0.03, 0.03, 2) + np.array(shot.aside)) * np.array(self.size) / r
        self.H = np.diag([f, f, 1]) @ np.column_stack([way[:, 0], way[:, 1], [off[0], off[1], f / r]])
        self.half = 0.5 * np.hypot(*self.size)

    def slip(self, q):
        """Stretch and folds at cloth points (..., 2), mm."""
        d = q - self.c
        out = np.zeros_like(d)
        for wave, reach, phase in zip(self.waves, self.reach, self.phase, strict=True):
            out += np.sin(2 * np.pi * (d @ wave) + phase)[..., None] * reach
        for way, at, wide, eat in self.folds:
            out -= (eat * np.tanh((d @ way - at) / wide))[..., None] * way
        return out

    def to_photo(self, q):
        s = q + self.slip(q) - self.c
        v = np.concatenate([s, np.ones((*s.shape[:-1], 1))], -1) @ self.H.T
        xy = v[..., :2] / v[..., 2:]
        xy = xy * (1 + self.shot.k1 * np.sum((xy / self.half) ** 2, -1, keepdims=True))
        return xy + np.array(self.size) / 2 - 0.5

    def to_cloth(self, xy):
        want = xy - np.array(self.size) / 2 + 0.5
        p = want.copy()
        for _ in range(6):
            p = want / (1 + self.shot.k1 * np.sum((p / self.half) ** 2, -1, keepdims=True))
        v = np.concatenate([p, np.ones((*p.shape[:-1], 1))], -1) @ np.linalg.inv(self.H).T
        s = v[..., :2] / v[..., 2:] + self.c
        q = s.copy()
        for _ in range(6):
            q = s - self.slip(q)
        return q

    def _turn(self, k):
        t = np.radians(self.shot.screens[k].turn_deg)
        return np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])

    def printed(self, k, p):
        """Where screen k prints film points."""
        s = self.shot.screens[k]
        return (p - self.c) @ self._turn(k).T + self.c + np.array([s.dx_mm, s.dy_mm])

    def film_of(self, k, q):
        s = self.shot.screens[k]
        return (q - np.array([s.dx_mm, s.dy_mm]) - self.c) @ self._turn(k) + self.c

    def relative(self, k, ref, at=None):
        """(dx mm, dy mm, turn deg) of screen k as screen ref sees it, at a point of the film (the art's middle)."""
        a, b = self.shot.screens[k], self.shot.screens[ref]
        at = self.c if at is None else np.asarray(at)
        moved = self.film_of(ref, self.printed(k, at)) - at
        return float(moved[0]), float(moved[1]), a.turn_deg - b.turn_deg


@lru_cache
def _camera(kind: int):
    colour = colour_science()

    nm = colour.SpectralShape(400, 700, 10)
    names = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")
    base = colour.characterisation.MSDS_CAMERA_SENSITIVITIES[names[kind % 2]].copy().align(nm).values
    base = np.nan_to_num(base)
    if kind >= 2:  # phones' filters lie a few nanometres elsewhere
        grid = np.arange(31.0)
        base = np.stack([np.interp(grid - move, grid, base[:, c]) for c, move in enumerate((0.5, -0.5, 0.6))], 1)
    return base


@lru_cache
def _lamp(name: str):
    colour = colour_science()

    sd = colour.SDS_ILLUMINANTS[name].copy().align(colour.SpectralShape(400, 700, 10))
    return np.nan_to_num(sd.values) / 100


@lru_cache
def chart_spectra():
    """(24, 31) reflectances of a 24-patch chart (colour-science: BabelColor average)."""
    colour = colour_science()

    shape = colour.SpectralShape(400, 700, 10)
    patches = colour.SDS_COLOURCHECKERS["babel_average"].values()
    return np.array([np.nan_to_num(sd.copy().align(shape).values) for sd in patches])


def phone(shot: Shot, reflectance):
    """(k, 3) linear light of the phone for (k, 31) reflectances, before light and tone curve."""
    sens, here, ref = _camera(shot.camera), _lamp(shot.lamp), _lamp("D65")
    raw = chart_spectra() @ (sens * ref[:, None]) / (np.ones(31) @ (sens * ref[:, None]))
    matrix, *_ = np.linalg.lstsq(raw, reflectance_to_xyz(chart_spectra()) @ XYZ_TO_RGB.T, rcond=None)
    grey = np.ones(31) @ (sens * here[:, None])
    sat = 1.08 * np.eye(3) - 0.08 * np.array([[0.2126, 0.7152, 0.0722]] * 3)
    seen = reflectance @ (sens * here[:, None]) / grey * np.array(shot.balance)
    return np.maximum(seen @ matrix @ sat.T, 0.0)


def _tone(x):
    x = np.clip(x, 0, None)
    return np.clip(x * (1 + 0.25 * x) / (1 + 0.25 * x * x), 0, 1)


def _encoded(x):
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-9), 1 / 2.4) - 0.055)


def _noise(rng, sigma, n=1024):
    a = ndi.gaussian_filter(rng.standard_normal((n, n)).astype(np.float32), sigma, mode="wrap")
    return a / a.std()


def _sampled(tile, x_mm, y_mm, cell_mm):
    n = tile.shape[0]
    return ndi.map_coordinates(tile, [y_mm / cell_mm % n, x_mm / cell_mm % n], order=1, mode="grid-wrap")


def spectra_of(printed: Printed, shot: Shot):
    """(2^n, 31) reflectances of stacks as they were really printed."""
    rng = np.random.default_rng(shot.seed + 77)
    nm = np.linspace(-1, 1, 31)
    bends = [np.exp(s.tint * (rng.normal() * nm + rng.normal() * (2 * nm**2 - 1))) for s in shot.screens]
    return printed.spectra([s.coats for s in shot.screens], bends)


def lab_of(printed: Printed, shot: Shot):
    """(2^n, 3) Lab of stacks as they were really printed."""
    return reflectance_to_lab(spectra_of(printed, shot))


def take_photo(printed: Printed, shot: Shot) -> Photograph:
    """Return the photograph of a print."""
    rng = np.random.default_rng(shot.seed + 11)
    geo = Geometry(printed, shot)
    W, H = geo.size
    step = 8
    grid = np.stack(np.meshgrid(np.arange(-step, W + 2 * step, step), np.arange(-step, H + 2 * step, step)), -1)
    cloth = geo.to_cloth(grid.astype(float))

    def fine(a):
        yy, xx = (np.arange(H) + step) / step, (np.arange(W) + step) / step
        i, j = yy.astype(int), xx.astype(int)
        fy, fx = (yy - i)[:, None].astype(np.float32), (xx - j)[None].astype(np.float32)
        a = a.astype(np.float32)
        rows = a[i] * (1 - fy) + a[i + 1] * fy
        return rows[:, j] * (1 - fx) + rows[:, j + 1] * fx

    rough, grain = _noise(rng, 3.0), _noise(rng, 1.0)
    cx, cy = fine(cloth[..., 0]), fine(cloth[..., 1])
    planes = [_inked(printed, shot, geo, k, cloth, fine, rough) for k in range(len(printed.films))]
    colours = phone(shot, spectra_of(printed, shot)).astype(np.float32)
    rgb = _mixed(planes, colours)
    inked = 1 - np.prod([1 - p for p in planes], axis=0)
    wale, course = cx / 0.75, cy / 0.62
    knit = np.sin(2 * np.pi * wale + 0.6 * np.sin(2 * np.pi * course)) * (0.6 + 0.4 * np.cos(2 * np.pi * course))
    knit *= np.clip((shot.px_per_mm * 0.75 - 2) / 3, 0.1, 1)
    specks, slubs = _sampled(grain, cx, cy, 0.11), _sampled(rough, cx, cy, 0.5)
    rgb *= (1 + (1 - inked) * (0.1 * knit + 0.05 * specks + 0.03 * slubs))[..., None]
    rgb *= (1 + inked * (0.03 * knit + 0.028 * specks + 0.015 * slubs))[..., None]
    if shot.chart:
        _lay_chart(rgb, shot, cx, cy)
    _lint(rgb, geo, rng, printed)
    brightest = max(colours.max(), 0.9 if shot.chart else 0.25)
    rgb *= _light(shot, geo, rng, fine, cloth) * np.float32(rng.uniform(0.72, 0.92) / brightest)
    if shot.glare:
        at = rng.uniform(0.35, 0.65, 2) * np.array([W, H])
        far = np.hypot(np.arange(W)[None] - at[0], np.arange(H)[:, None] - at[1]) / (0.12 * max(W, H))
        rgb += (shot.glare * np.exp(-(far**2)) * (0.3 + 0.7 * inked))[..., None].astype(np.float32)
    rgb += np.float32(0.008) * rgb.mean(axis=(0, 1))
    rgb = ndi.gaussian_filter(rgb, (shot.blur_px, shot.blur_px, 0))
    rgb += rng.standard_normal(rgb.shape, dtype=np.float32) * np.sqrt(np.maximum(rgb, 0) * 2e-4 + 4e-6)
    if shot.sharpen:
        rgb += shot.sharpen * (rgb - ndi.gaussian_filter(rgb, (1.1, 1.1, 0)))
    out = np.rint(_encoded(_tone(rgb)) * 255).astype(np.uint8)
    data = io.BytesIO()
    Image.fromarray(out).save(data, "JPEG", quality=shot.quality, subsampling=2)
    return Photograph(data.getvalue(), shot, geo)


def _lay_chart(rgb, shot, cx, cy):
    """Lay a chart of 6 x 4 patches in a dark frame over the picture; cx, cy are cloth mm of each pixel."""
    x, y, pitch, turn = shot.chart
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    u, v = ((c * (cx - x) + s * (cy - y)) / pitch, (-s * (cx - x) + c * (cy - y)) / pitch)
    i, j = np.rint(u).astype(int), np.rint(v).astype(int)
    inside = (u > -0.75) & (u < 5.75) & (v > -0.75) & (v < 3.75)
    rgb[inside] = phone(shot, np.full((1, 31), 0.035))[0]
    patch = inside & (np.abs(u - i) < 0.42) & (np.abs(v - j) < 0.42) & (i >= 0) & (i < 6) & (j >= 0) & (j < 4)
    rgb[patch] = phone(shot, chart_spectra())[(j * 6 + i)[patch]]


def _inked(printed, shot, geo, k, cloth, fine, rough):
    """(H, W) share of each pixel that screen k inks."""
    p = (geo.film_of(k, cloth) + printed.margin_mm) * FILM_PX_MM - 0.5
    u, v = fine(p[..., 0]), fine(p[..., 1])
    film = printed.films[k].astype(np.float32)
    if shot.broken_mm:
        film = film_with_breaks(film, shot, k)
    far = ndi.map_coordinates(film, [v, u], order=1, mode="constant", cval=CLIP_MM)
    far -= np.float32(shot.screens[k].growth_mm)
    near = np.abs(far) < 0.25
    far[near] += 0.018 * _sampled(rough, u[near] / FILM_PX_MM, v[near] / FILM_PX_MM, 0.2)
    for spot in shot.spots:
        if spot.plate != k:
            continue
        x, y = ((np.array([spot.x_mm, spot.y_mm]) + printed.margin_mm) * FILM_PX_MM - 0.5).tolist()
        disc = np.hypot(u - x, v - y) / FILM_PX_MM - spot.size_mm / 2
        far = np.minimum(far, disc) if spot.kind == "pinhole" else np.maximum(far, -disc)
    a, b = np.gradient(cloth[..., 0]), np.gradient(cloth[..., 1])
    local = 8 / np.sqrt(np.abs(a[1] * b[0] - a[0] * b[1]))
    return np.clip(0.5 - far * fine(local), 0, 1)


def film_with_breaks(film, shot: Shot, k: int):
    """The distances of screen k's film, mm, as printed where lines up to ``shot.broken_mm`` break here and there."""
    rng, broken_mm = np.random.default_rng(shot.seed + 21 + k), shot.broken_mm
    reach = 2 * int(0.3 * FILM_PX_MM) + 1
    thin = (film < 0) & (ndi.maximum_filter(-film, size=reach) < broken_mm / 2 + 0.005)
    thin[: int(shot.broken_from_mm * FILM_PX_MM)] = False
    cells = rng.standard_normal((film.shape[0] // 40 + 3, film.shape[1] // 40 + 3)).astype(np.float32)
    blobs = ndi.zoom(ndi.gaussian_filter(cells, 0.5), 40, order=1)[: film.shape[0], : film.shape[1]]
    gone = ndi.binary_dilation(thin & (blobs > np.quantile(blobs, 0.6)), iterations=2)
    return np.where(gone & (film < 0.2), np.float32(0.3), film)


def _mixed(planes, colours):
    code, soft = np.zeros(planes[0].shape, np.uint16), np.zeros(planes[0].shape, bool)
    for i, plane in enumerate(planes):
        code |= (plane > 0.5).astype(np.uint16) << i
        soft |= (plane > 0.003) & (plane < 0.997)
    rgb = colours[code]
    parts = [plane[soft] for plane in planes]
    acc = np.zeros((int(soft.sum()), 3), np.float32)
    for stack in range(len(colours)):
        share = np.ones(len(acc), np.float32)
        for i, part in enumerate(parts):
            share = share * (part if stack >> i & 1 else 1 - part)
        acc += share[:, None] * colours[stack]
    rgb[soft] = acc
    return rgb


def _lint(rgb, geo, rng, printed):
    fibre = np.array([0.55, 0.55, 0.57], np.float32) * float(rgb.max())
    for _ in range(geo.shot.lint):
        p = rng.uniform(0.1, 0.9, 2) * np.array([printed.width_mm, printed.height_mm])
        angle = rng.uniform(0, 6.28) + rng.normal(0, 0.6) * np.linspace(0, 1, 60)
        line = p + np.cumsum(np.stack([np.cos(angle), np.sin(angle)], 1) * rng.uniform(1, 4) / 60, 0)
        for x, y in geo.to_photo(line)[::2]:
            i, j = int(y) - 2, int(x) - 2
            if 0 <= i < rgb.shape[0] - 5 and 0 <= j < rgb.shape[1] - 5:
                ys, xs = np.mgrid[i : i + 5, j : j + 5]
                share = np.clip(0.05 * geo.shot.px_per_mm + 0.5 - np.hypot(xs - x, ys - y), 0, 1)[..., None] * 0.5
                rgb[i : i + 5, j : j + 5] = rgb[i : i + 5, j : j + 5] * (1 - share) + fibre * share


def _light(shot, geo, rng, fine, cloth):
    W, H = geo.size
    x, y = ((np.arange(n) - n / 2) / max(W, H) for n in (W, H))
    gx, gy, fall = shot.gradient
    g = 1 + 2 * gx * x[None] + 2 * gy * y[:, None] + 4 * fall * (x[None] ** 2 + y[:, None] ** 2)
    if shot.shadow:
        way = rng.uniform(0, 6.28)
        away = x[None] * np.cos(way) + y[:, None] * np.sin(way) - rng.uniform(-0.3, 0.5)
        g = g * (1 - shot.shadow / (1 + np.exp(-away / rng.uniform(0.08, 0.3) * 6)))
    d = cloth - geo.c
    shade = np.ones(d.shape[:-1])
    for way, at, wide, eat in geo.folds:
        t = (d @ way - at) / wide
        shade += 0.18 * eat * t * np.exp(0.5 - t * t / 2)
    g = g * fine(shade)
    mixed = 2 * shot.mixed * (x[None] + 0.3 * y[:, None])
    return np.stack([g * (1 + mixed), g, g * (1 - 1.5 * mixed)], -1).astype(np.float32)
