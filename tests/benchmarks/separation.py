"""Separation against quantizers and global unmixing, on drawn art with exact truth; and the time of one large picture.

Art is drawn here by scikit-image at eight times the size and box-filtered, so each pixel's true coverage is known.
Baselines are told the number of colours; ours is not. Hard quantizers were not made to give coverage, so edge error is
in our favour by design: count, colour, fringe, specks and lost parts compare like with like.

    python -m tests.benchmarks separation [--cases 8] [--variants aa,lin,jpg85] [--large]
"""

from __future__ import annotations

import argparse
import io
import resource
import subprocess
import sys
import time

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_srgb, srgb8_to_lab, srgb_to_linear
from sepkit.model import Artwork, InkRequest

SCALE = 8
SIDE_PX = 480
DPI = 300.0
WHITE = (255, 255, 255)
COLOURS = np.array(
    [
        (200, 38, 44),
        (248, 206, 52),
        (24, 72, 148),
        (34, 120, 74),
        (240, 132, 40),
        (118, 44, 120),
        (28, 28, 30),
        (120, 196, 214),
        (246, 170, 180),
        (122, 84, 52),
        (150, 152, 154),
        (86, 160, 60),
    ]
)
METHODS = ("sepkit", "median cut", "fast octree", "KMeans Lab", "KMeans + NNLS")
COLUMNS = ("count ok", "ink dE00", "fringe %", "specks", "lost", "edge err pp", "seconds")


def draw(seed):
    """Return (k, h, w) true coverage and (k, 3) colours of one invented picture: overlapping shapes with outlines."""
    from skimage import draw as shapes

    rng = np.random.default_rng(seed)
    big = SIDE_PX * SCALE
    count = int(rng.integers(3, 8))
    colours = COLOURS[rng.permutation(len(COLOURS))[:count]]
    label = np.zeros((big, big), np.uint8)
    for n in range(9 + 2 * count):
        ink = n % count + 1
        cy, cx = rng.uniform(0.15, 0.85, 2) * big
        size = rng.uniform(0.05, 0.2) * big
        kind = n % 4
        if kind == 0:
            rim = ink % count + 1  # a filled disc with a thin outline of another ink
            yy, xx = shapes.disk((cy, cx), size, shape=label.shape)
            label[yy, xx] = rim
            yy, xx = shapes.disk((cy, cx), size - rng.uniform(2, 5) * SCALE, shape=label.shape)
        elif kind == 1:
            yy, xx = shapes.ellipse(
                cy, cx, size, size * rng.uniform(0.3, 1), shape=label.shape, rotation=rng.uniform(0, 3)
            )
        elif kind == 2:
            turn = np.sort(rng.uniform(0, 2 * np.pi, 7))
            reach = size * rng.uniform(0.6, 1.4, 7)
            yy, xx = shapes.polygon(cy + reach * np.sin(turn), cx + reach * np.cos(turn), shape=label.shape)
        else:
            dy, dx = rng.uniform(-1.5, 1.5, 2) * size
            half = rng.uniform(0.7, 1.5) * SCALE  # lines of 1.4 to 3 px
            off = np.array((-dx, dy)) / np.hypot(dx, dy) * half
            rows = (cy + off[0], cy + dy + off[0], cy + dy - off[0], cy - off[0])
            cols = (cx + off[1], cx + dx + off[1], cx + dx - off[1], cx - off[1])
            yy, xx = shapes.polygon(np.array(rows), np.array(cols), shape=label.shape)
        label[yy, xx] = ink
    cover = np.stack([(label == k + 1) for k in range(count)]).astype(np.float32)
    cover = cover.reshape(count, SIDE_PX, SCALE, SIDE_PX, SCALE).mean(axis=(2, 4))
    seen = cover.sum(axis=(1, 2)) > 60
    return cover[seen], colours[seen]


def render(cover, colours, variant):
    """Return (h, w, 4) uint8: "aa" encoded blend on transparency, "lin" linear light, "jpg85" a JPEG on white."""
    linear = variant == "lin"
    inks = srgb_to_linear(colours / 255) if linear else colours / 255
    paint, alpha = np.einsum("khw,kc->hwc", cover, inks), cover.sum(0)
    if variant != "jpg85":
        rgb = paint / np.maximum(alpha, 1e-6)[..., None]
        rgb = linear_to_srgb(rgb) if linear else rgb
        return np.rint(np.dstack([np.clip(rgb, 0, 1), np.clip(alpha, 0, 1)]) * 255).astype(np.uint8)
    from PIL import Image

    data = io.BytesIO()
    flat = np.rint(np.clip(paint + (1 - alpha)[..., None], 0, 1) * 255).astype(np.uint8)
    Image.fromarray(flat).save(data, "JPEG", quality=85, subsampling=2)
    rgb = np.asarray(Image.open(data).convert("RGB"))
    return np.dstack([rgb, np.full(rgb.shape[:2], 255, np.uint8)])


def ours(rgba, count):
    """Separate without being told the count."""
    from sepkit.separation.separate import separate

    size_mm = rgba.shape[1] / DPI * 25.4
    art = Artwork(rgba[..., :3].copy(), rgba[..., 3].copy(), size_mm, size_mm, "drawn")
    found = separate(art, WHITE, InkRequest())
    return [(np.array(a.srgb), a.coverage / 255) for a in found.areas]


def baseline(method, rgba, count):
    """Quantize the picture over white to ``count`` colours and the ground; hard labels, or shares by NNLS."""
    from PIL import Image

    alpha = rgba[..., 3:].astype(np.float64) / 255
    flat = np.rint(rgba[..., :3] * alpha + 255 * (1 - alpha)).astype(np.uint8)
    if method.startswith("KMeans"):
        palette, label = _kmeans(flat, count + 1)
    else:
        how = Image.Quantize.MEDIANCUT if method == "median cut" else Image.Quantize.FASTOCTREE
        image = Image.fromarray(flat).quantize(count + 1, method=how)
        label = np.asarray(image)
        palette = np.array(image.getpalette()[: 3 * (label.max() + 1)]).reshape(-1, 3)
    shares = _nnls(flat, palette) if method.endswith("NNLS") else np.stack([label == k for k in range(len(palette))])
    off = delta_e_2000(srgb8_to_lab(palette), srgb8_to_lab(np.array(WHITE)))
    return [(palette[k], shares[k].astype(np.float32)) for k in range(len(palette)) if off[k] > 6]


def _kmeans(flat, count):
    from sklearn.cluster import KMeans

    lab = srgb8_to_lab(flat).reshape(-1, 3)
    some = lab[np.random.default_rng(0).permutation(len(lab))[:60_000]]
    model = KMeans(count, n_init=3, random_state=0).fit(some)
    label = model.predict(lab).reshape(flat.shape[:2])
    found = [np.median(flat[label == k], axis=0) if (label == k).any() else (255, 255, 255) for k in range(count)]
    return np.array(found).astype(np.uint8), label


def _nnls(flat, palette):
    """Shares of all palette colours at every pixel: non-negative least squares with a heavy sum-to-one row."""
    from scipy.optimize import nnls

    keys, inverse = np.unique(flat.reshape(-1, 3), axis=0, return_inverse=True)
    matrix = np.vstack([palette.T / 255, np.full(len(palette), 10.0)])
    solved = np.array([nnls(matrix, np.append(key / 255, 10.0))[0] for key in keys])
    return solved[inverse.ravel()].T.reshape(len(palette), *flat.shape[:2])


def score(cover, colours, found):
    """Return the columns but seconds: truth and result are matched by overlap and colour."""
    from scipy import ndimage
    from scipy.optimize import linear_sum_assignment

    def unlike(a, b):
        return 1 - np.minimum(a, b).sum() / max(np.maximum(a, b).sum(), 1)

    off = np.array([[delta_e_2000(srgb8_to_lab(c), srgb8_to_lab(t)) for t in colours] for c, _ in found])
    cost = np.array([[unlike(p, t) for t in cover] for _, p in found]) + off / 100
    rows, cols = linear_sum_assignment(cost)
    got = np.zeros_like(cover)
    for r, c in zip(rows, cols, strict=True):
        got[c] = found[r][1]
    extra = [found[r][1] for r in range(len(found)) if r not in rows]
    bare, bare_true = np.clip(1 - got.sum(0) - sum(extra), 0, 1), np.clip(1 - cover.sum(0), 0, 1)
    wrong = 0.5 * (np.abs(got - cover).sum(0) + sum(extra) + np.abs(bare - bare_true))
    edge = np.maximum(cover.max(0), bare_true) < 0.985
    square = np.ones((3, 3), bool)
    fringe = np.zeros(edge.shape, bool)
    specks = lost = 0
    least = np.pi * (0.15 * DPI / 25.4) ** 2  # pixels of a 0.3 mm dot
    for g, t in zip(got, cover, strict=True):
        fringe |= (g >= 0.15) & ~ndimage.binary_dilation(t > 0.01, square)
        near = ndimage.binary_dilation(t >= 0.25, square)
        number, n = ndimage.label(g >= 0.5, square)
        size, hit = np.bincount(number.ravel(), minlength=n + 1), np.bincount(number.ravel(), near.ravel(), n + 1)
        specks += int(((size < least) & (hit == 0))[1:].sum())
        number, n = ndimage.label(t >= 0.5, square)
        size, kept = (
            np.bincount(number.ravel(), minlength=n + 1),
            np.bincount(number.ravel(), (g >= 0.5).ravel(), n + 1),
        )
        lost += int(((size >= least) & (kept < 0.2 * size))[1:].sum())
    for plane in extra:
        fringe |= plane >= 0.15
    return (
        float(len(found) == len(cover)),
        float(off[rows, cols].mean()),
        float(fringe[edge].mean() * 100),
        float(specks),
        float(lost),
        float(wrong[edge].mean() * 100),
    )


def compare(cases, variants):
    """Print one table per variant."""
    for variant in variants:
        print(f"\n{variant}, mean of {cases} pictures of {SIDE_PX} px")
        print(f"{'':16}" + "".join(f"{c:>12}" for c in COLUMNS))
        pictures = [draw(seed) for seed in range(cases)]
        for method in METHODS:
            rows = []
            for cover, colours in pictures:
                rgba = render(cover, colours, variant)
                start = time.perf_counter()
                found = ours(rgba, len(cover)) if method == "sepkit" else baseline(method, rgba, len(cover))
                rows.append((*score(cover, colours, found), time.perf_counter() - start))
            print(f"{method:16}" + "".join(f"{v:12.3f}" for v in np.mean(rows, axis=0)), flush=True)


def large(method):
    """Time one picture of 28.7 Mpx and five inks in this process; print seconds and peak MiB."""
    from PIL import Image

    cover, colours = draw(2)
    tile = render(cover[:5], colours[:5], "aa")
    rgba = np.tile(tile, (12, 11, 1))[:5431, :5280].copy()
    if method == "octree":
        image = Image.fromarray(rgba)
        del rgba
        start = time.perf_counter()
        image.quantize(6, method=Image.Quantize.FASTOCTREE)
    else:
        import scipy.ndimage
        import scipy.spatial  # loaded before the clock starts, like Pillow

        from sepkit.separation.separate import separate

        _ = scipy.ndimage, scipy.spatial
        art = Artwork(rgba[..., :3].copy(), rgba[..., 3].copy(), 447.0, 459.8, "large")
        del rgba
        start = time.perf_counter()
        separate(art, WHITE, InkRequest())
    took = time.perf_counter() - start
    print(f"{took:.2f} {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f}")


def main(args):
    """Run the comparison, and with --large the timing in processes of their own."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks separation")
    parser.add_argument("--cases", type=int, default=8)
    parser.add_argument("--variants", default="aa,lin,jpg85")
    parser.add_argument("--large", action="store_true", help="time 28.7 Mpx instead")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    chosen = parser.parse_args(args)
    if chosen.one:
        large(chosen.one)
    elif chosen.large:
        command = [sys.executable, "-m", "tests.benchmarks", "separation", "--one"]
        runs = {m: [] for m in ("octree", "sepkit")}
        for _ in range(3):
            for method, seen in runs.items():
                out = subprocess.run([*command, method], capture_output=True, text=True, check=True).stdout.split()
                seen.append((float(out[0]), float(out[1])))
        best = {method: min(seen) for method, seen in runs.items()}
        for method, (seconds, peak) in best.items():
            print(f"{method:8} {seconds:6.2f} s   peak {peak:5.0f} MiB   (best of 3, peak of the whole process)")
        print(f"ratio    {best['sepkit'][0] / best['octree'][0]:6.2f}")
    else:
        compare(chosen.cases, chosen.variants.split(","))
