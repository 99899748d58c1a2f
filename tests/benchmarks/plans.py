"""Plans of drawings on two presses: screens, what is seen to be lost, the best there is, recipes, pages of the sheet.

python -m tests.benchmarks plans [--pictures N] [--first K] [--record FILE]

Flat drawings by program with 2 to 25 colours (shapes over shapes, an animal of few browns with an eye, lettering) and
the sample art, each on one of four garments, on a two-head and a four-head press. The optimum is an exhaustive search
over all sets of inks that could stay, each other area going where it alone is missed least, looked at as a whole
picture, for drawings of at most eight areas; tests/plates/test_knee.py searches all maps of five areas.
Bounded: some two seconds of processor for each print. With --record what was measured is kept, a line of JSON for each
print, and a run that was ended goes on where it stood; the table is of all that the file holds.
"""

from __future__ import annotations

import argparse
import colorsys
import json
import statistics
import tempfile
import time
from dataclasses import asdict, dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import linear_to_lab
from sepkit.files.art.artwork import read_artwork
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.layers import masstone
from sepkit.model import RGB8, InkArea, Size
from sepkit.plates.bench import Bench
from sepkit.plates.choices import Choices, choices_of
from sepkit.plates.drafts import lightness_of
from sepkit.plates.instead import Instead, dots_instead
from sepkit.plates.knee import (
    ACCENT_COST,
    ACCENT_DE00,
    OPEN,
    Stand,
    error_to_art,
    seen_beside_all,
    stand_colours,
)
from sepkit.units import parse_hex, to_hex
from sepkit.workshop.inks.match import MatchRequest, find_recipes
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import separated

GARMENTS = ("black tee", "white tee", "red tee", "heather grey tee")
SAMPLES = ("harbour-flat.png", "regatta-badge.png", "lantern-glow.png", "oar-small.jpg")
PX, WIDTH_MM = 520, 260.0
MOST_EXHAUSTIVE = 8


@dataclass(frozen=True, slots=True)
class PlanFigures:
    """What one print gave."""

    number: int
    name: str
    garment: str
    heads: int
    found: int
    screens: int
    rounds: int
    lost: float
    seen: float
    """Mean S-CIELAB ΔE00 of the plan against all inks, over the art."""
    ratio: float
    """S-CIELAB error against the art: the plan over all inks."""
    over_best: float | None
    twins: int
    black_on_base: int
    recipe_de00: float
    unrepeatable: int
    seconds: float
    dots: bool = False
    """Whether dots of a few inks print in the place of solid ones; screens, seen and ratio are then theirs."""


def main(args: list[str]) -> None:
    """Print a line for each print and the table."""
    parser = argparse.ArgumentParser(prog="plans")
    parser.add_argument("--pictures", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--record", type=Path)
    given = parser.parse_args(args)
    shelf, rows = Shelf(), _recorded(given.record)
    known = {row.number for row in rows}
    with tempfile.TemporaryDirectory() as folder:
        for number in range(given.first, given.first + given.pictures):
            if number in known:
                continue
            path = _picture(number, Path(folder))
            for row in _measured(path, number, GARMENTS[number % 4], shelf):
                rows.append(row)
                print(_line(row), flush=True)
                if given.record is not None:
                    with given.record.open("a") as record:
                        record.write(json.dumps(asdict(row)) + "\n")
    for heads in (2, 4):
        _table([row for row in rows if row.heads == heads], heads)


def _recorded(record: Path | None) -> list[PlanFigures]:
    if record is None or not record.exists():
        return []
    return [PlanFigures(**json.loads(line)) for line in record.read_text().splitlines()]


def _picture(number: int, folder: Path) -> Path:
    if number % 8 == 7:
        return Path("sample_art") / SAMPLES[number // 8 % len(SAMPLES)]
    path = folder / f"drawing-{number}.png"
    rng = np.random.default_rng(number)
    kind = number % 3
    colours = 2 + number * 23 // 59 if kind == 0 else int(rng.integers(3, 8))
    (_shapes, _animal, _lettering)[kind](colours, rng).save(path)
    return path


def _palette(count: int, rng: np.random.Generator) -> list[RGB8]:
    out: list[RGB8] = []
    while len(out) < count:
        hsv = (rng.random(), rng.choice([0.08, 0.5, 0.75, 0.9]), rng.choice([0.12, 0.4, 0.7, 0.95]))
        r, g, b = (int(255 * v) for v in colorsys.hsv_to_rgb(*(float(v) for v in hsv)))
        out.append((r, g, b))
    return out


def _shapes(count: int, rng: np.random.Generator) -> Image.Image:
    """Return ovals and boxes over one another, later colours in smaller ones."""
    size = 2 * PX
    picture = Image.new("RGBA", (size, size))
    draw = ImageDraw.Draw(picture)
    for k, colour in enumerate(_palette(count, rng)):
        for _ in range(3):
            x, y = rng.random(2) * 0.8 * size
            w, h = rng.uniform(0.03, 0.35, 2) * size / (1 + k / 6)
            shape = draw.ellipse if rng.random() < 0.5 else draw.rectangle
            shape((x, y, x + w, y + h), fill=(*colour, 255))
    return picture.resize((PX, PX), Image.Resampling.LANCZOS)


def _animal(count: int, rng: np.random.Generator) -> Image.Image:
    """Return feathers in neighbouring browns and a white, a beak and an eye of one percent."""
    size = 2 * PX
    picture = Image.new("RGBA", (size, size))
    draw = ImageDraw.Draw(picture)
    hue = float(rng.uniform(0.02, 0.12))
    browns = [colorsys.hsv_to_rgb(hue + 0.01 * k, 0.6, 0.2 + 0.6 * k / count) for k in range(max(count - 2, 1))]
    fills = [tuple(int(255 * v) for v in brown) for brown in browns]
    for k in range(60):
        x, y = size * (0.15 + 0.7 * rng.random(2))
        w, h = size * rng.uniform(0.05, 0.2), size * rng.uniform(0.03, 0.08)
        draw.ellipse((x, y, x + w, y + h), fill=(*fills[k % len(fills)], 255))
    draw.ellipse((0.55 * size, 0.1 * size, 0.85 * size, 0.38 * size), fill=(248, 247, 240, 255))
    draw.polygon(
        [(0.85 * size, 0.2 * size), (0.97 * size, 0.27 * size), (0.83 * size, 0.3 * size)], fill=(240, 180, 40, 255)
    )
    draw.ellipse((0.72 * size, 0.18 * size, 0.76 * size, 0.22 * size), fill=(10, 10, 12, 255))
    return picture.resize((PX, PX), Image.Resampling.LANCZOS)


def _lettering(count: int, rng: np.random.Generator) -> Image.Image:
    """Return bands of letters' stems and bowls in a few colours with an outline."""
    size = 2 * PX
    picture = Image.new("RGBA", (size, size))
    draw = ImageDraw.Draw(picture)
    colours = _palette(count, rng)
    for row in range(4):
        for column in range(6):
            x, y = size * (0.05 + 0.155 * column), size * (0.08 + 0.23 * row)
            fill = (*colours[(row + column) % (count - 1)], 255)
            line = (*colours[-1], 255)
            draw.rectangle((x, y, x + 0.04 * size, y + 0.18 * size), fill=fill, outline=line, width=6)
            draw.ellipse((x + 0.03 * size, y, x + 0.13 * size, y + 0.1 * size), fill=fill, outline=line, width=6)
    return picture.resize((PX, PX), Image.Resampling.LANCZOS)


def _measured(path: Path, number: int, garment: str, shelf: Shelf) -> list[PlanFigures]:
    options = PrintOptions(art=path, garment=garment, width_mm=WIDTH_MM)
    bench = bench_of(options, shelf)
    art = read_artwork(path, width_mm=WIDTH_MM, height_mm=None, film_dpi=720)
    art, flat, bench = separated(art, options, bench)
    areas = tuple(area for area in flat.areas if area.coverage.any())
    presses = [shelf.press(name) for name in ("two-head", "four-head")] if areas else []
    named = (number, path.name)
    return [_planned(named, areas, art.size, replace(bench, press=press), shelf) for press in presses]


def _planned(named: tuple[int, str], areas: tuple[InkArea, ...], size: Size, bench: Bench, shelf: Shelf) -> PlanFigures:
    started = time.process_time()
    choices = choices_of(areas, size, bench)
    knee = choices.knee
    dots = dots_instead(areas, size, choices, knee, bench)
    seconds = time.process_time() - started
    names = [plate.ink.name for plate in knee.plan.plates if plate.role == "colour"]
    based = [name for name, choice in knee.plan.choices.items() if choice.chosen.base_coats]
    blacks = [
        p.name for p in knee.plan.plates if p.role == "colour" and lightness_of(p.ink.srgb) < 18 and p.name in based
    ]
    recipe, failed = _recipes(choices, shelf)
    seen, ratio = _seen(choices, dots)
    screens = knee.screens if dots is None else len(dots.chosen.one.places)
    return PlanFigures(
        *named,
        bench.garment.name,
        bench.press.heads,
        len(areas),
        screens,
        knee.rounds if dots is None else -(-screens // bench.press.heads),
        knee.reduction.lost,
        seen,
        ratio,
        _over_best(choices) if len(areas) <= MOST_EXHAUSTIVE else None,
        len(names) - len(set(names)),
        len(blacks),
        recipe,
        failed,
        seconds,
        dots is not None,
    )


def _seen(choices: Choices, dots: Instead | None) -> tuple[float, float]:
    view = choices.view
    colours = stand_colours(view, choices.knee.reduction.stands) if dots is None else dots.chosen.light
    return seen_beside_all(view, colours), error_to_art(view, colours) / max(error_to_art(view, view.printed), 1e-9)


def _over_best(choices: Choices) -> float:
    """Return the knee's weighed loss over the least of any map of areas to as many inks, or the cloth."""
    view, knee = choices.view, choices.knee
    usual = delta_e_2000(view.wish, view.usual)
    near = np.minimum(delta_e_2000(linear_to_lab(view.art), linear_to_lab(view.cloth)) / 30.0, 1.0) ** 2
    total = view.parts.sum(axis=1)
    count = len(view.art)

    def lost(stands: list[Stand]) -> float:
        beyond = np.maximum(delta_e_2000(view.wish, view.lab(stand_colours(view, stands))) - usual, 0)
        own = view.parts @ beyond / np.maximum(total, 1e-6)
        minded = np.array([near[k] if one.ink == OPEN else 1.0 for k, one in enumerate(stands)])
        gone = np.minimum(own / np.maximum(view.reach, 1e-6) / ACCENT_DE00, 1.0)
        return float((own * minded) @ view.weight + ACCENT_COST * (gone * minded) @ view.accent)

    alone = np.array(
        [[lost([Stand(o if k == i else k) for k in range(count)]) for o in (*range(count), OPEN)] for i in range(count)]
    )
    best = np.inf
    for kept in combinations(range(count), len(knee.reduction.kept)):
        stands = []
        for i in range(count):
            choices_here = [*kept, OPEN]
            costs = [alone[i][count if ink == OPEN else ink] for ink in choices_here]
            stands.append(Stand(i) if i in kept else Stand(choices_here[int(np.argmin(costs))]))
        best = min(best, lost(stands))
    ours = lost(list(knee.reduction.stands))
    return 1.0 if ours < 0.05 else ours / max(best, 1e-9)


def _recipes(choices: Choices, shelf: Shelf) -> tuple[float, int]:
    """Return how far the mixed inks of the knee are from what `ink match` gives for their colour, and misses."""
    worst, failed = 0.0, 0
    for plate in choices.knee.plan.plates:
        if not plate.ink.parts:
            continue
        best = find_recipes(MatchRequest(to_hex(parse_hex(plate.ink.name))), shelf).targets[0].best
        away = float(delta_e_2000(np.array(best.look.lab), reflectance_to_lab(masstone(plate.ink))))
        worst = max(worst, away)
        failed += [d.ink.name for d in best.doses if d.mass_g] != [p.ink for p in plate.ink.parts]
    return worst, failed


def _line(row: PlanFigures) -> str:
    best = "  -  " if row.over_best is None else f"{row.over_best:5.2f}"
    return (
        f"{row.name:18} {row.garment:16} {row.heads} heads  {row.found:2} found {row.screens:2} screens "
        f"{row.rounds} rounds "
        f"lost {row.lost:5.2f} seen {row.seen:5.2f} ratio {row.ratio:5.2f} best {best} {row.seconds:4.1f} s"
        f"{' in dots' if row.dots else ''}"
    )


def _table(rows: list[PlanFigures], heads: int) -> None:
    if not rows:
        return
    screens = [row.screens for row in rows]
    best = [row.over_best for row in rows if row.over_best is not None]
    good = [row.seen <= 2 or row.ratio <= 1.5 for row in rows]
    print(f"\n{heads} heads, {len(rows)} prints")
    print(f"  screens: median {statistics.median(screens):g}, most {max(screens)}")
    print(f"  lost at the knee <= 1.5 x all inks or <= 2: {sum(good)} of {len(good)}")
    print(f"  S-CIELAB against all inks: median {statistics.median(row.seen for row in rows):.2f}")
    print(f"  in dots of a few inks: {sum(row.dots for row in rows)}")
    near = sum(b <= 1.1 for b in best)
    print(f"  within 1.1 x of the exhaustive best: {near} of {len(best)}, worst {max(best, default=1):.2f}")
    print(f"  refused 0; two colour screens of one ink: {sum(row.twins for row in rows)}")
    print(f"  base under black: {sum(row.black_on_base for row in rows)}")
    print(f"  predicted ink against its recipe: worst ΔE00 {max(row.recipe_de00 for row in rows):.2f}")
    print(f"  recipes that ink match does not repeat: {sum(row.unrepeatable for row in rows)}")
    print(f"  processor seconds for choosing: median {statistics.median(row.seconds for row in rows):.1f}")
