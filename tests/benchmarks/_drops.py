"""Drops made up from a number: job files with art of their own, small enough to plan in seconds."""

from __future__ import annotations

import random
from pathlib import Path

GARMENTS = (("black tee", 4.2), ("white tee", 3.9), ("black hoodie", 17.5), ("charcoal tee", 4.4))
PLACES = (("full front", 220), ("full back", 260), ("left chest", 85), ("centre chest", 160), ("nape", 60))
COLOURS = ("#f4c95d", "#e2532d", "#2f9e94", "#17304f", "#f6f3ea", "#7a3b8f")
SIZES = ("S", "M", "L", "XL")
MESHES = ("43-80", "55-64", "62-60", "77-55", "90-40")
ART_PX = 240


def write_drop(folder: Path, seed: int) -> Path:
    """Write a job file and its art; return its path. 1-5 prints, 1-4 garments, 20-200 pieces, 1-6 heads and platens."""
    rng = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    garments = rng.sample(GARMENTS, rng.randint(1, 4))
    prints = rng.sample(PLACES, rng.randint(1, 5))
    pieces = rng.randint(20, 200)
    heads, platens = rng.randint(1, 6), rng.randint(1, 6)
    lines = [
        "schema = 1",
        f'title = "Drop {seed}"',
        f'[press]\nname = "two-head"\nheads = {heads}\nplatens = {platens}\nplaten_width_mm = 400',
        "[film]\ndpi = 720",
        '[money]\ncurrency = "EUR"\nhour = 15\nink_kg = 22\nfilm_m2 = 12\nscreen = 3\npiece = 0.6\nprice = 28',
    ]
    size = "inside_width_mm = 533\ninside_height_mm = 787"
    lines += [f'[[screen]]\nname = "large {mesh}"\n{size}\nmesh = "{mesh}"\ncount = 12' for mesh in MESHES]
    lines += [f"[[blade]]\nwidth_mm = {width}\ncount = {rng.randint(1, 3)}" for width in (120, 220, 330)]
    for name, price in garments:
        share = max(4, pieces // len(garments))
        sizes = ", ".join(f"{size} = {rng.randint(1, max(1, share // 2))}" for size in SIZES[: rng.randint(1, 4)])
        lines.append(f'[[garment]]\nname = "{name}"\nsizes = {{ {sizes} }}\nprice = {price}')
    for at, (place, width) in enumerate(prints):
        colours = rng.sample(COLOURS, rng.randint(1, 4))
        _draw(folder / f"art{at}.png", colours, rng)
        lines.append(
            f'[[print]]\nname = "print {at}"\nart = "art{at}.png"\nplacement = "{place}"\nwidth_mm = {width}\n'
            f'inks = "{",".join(colours)}"'
        )
    path = folder / "drop.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _draw(path: Path, colours: list[str], rng: random.Random) -> None:
    """Draw a badge: rings of the colours, one in the other, so that they touch."""
    from PIL import Image, ImageDraw

    scale = 4
    picture = Image.new("RGBA", (ART_PX * scale, ART_PX * scale), (0, 0, 0, 0))
    draw = ImageDraw.Draw(picture)
    middle, radius = ART_PX * scale / 2, ART_PX * scale * 0.48
    for colour in colours:
        off = rng.uniform(-0.08, 0.08) * radius
        draw.ellipse((middle - radius + off, middle - radius, middle + radius + off, middle + radius), fill=colour)
        radius *= rng.uniform(0.55, 0.75)
    picture.resize((ART_PX, ART_PX), Image.Resampling.BOX).save(path)
