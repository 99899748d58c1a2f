"""Art as people bring it, drawn from seeds with exact known plates: figures by kind of art, beside what is asked.

Numbers are tuned on seeds 0-99 and told on seeds from 1000 on. ``--look DIR`` writes each picture and its plates beside
one another as PNG. Kinds stand in modules ``_art_*``; ``_art.py`` says how to add one.

    python -m tests.benchmarks art [KIND ...] [--seeds 1000-1019] [--json] [--look DIR]
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from pathlib import Path

import numpy as np

from sepkit.errors import SepkitError
from tests.benchmarks._art import FIGURES, kinds

COUNTED = ("refused", "swapped")


def seeds_of(text):
    """Return the seeds of ``A-B``, both included, or of ``A``."""
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


def one(kind, seed):
    """Return the figures of one picture, with its seed and seconds of the processor."""
    picture, truth = kind.draw(seed)
    start = time.process_time()
    try:
        row = {"refused": 0.0, **kind.score(picture, truth)}
    except SepkitError as error:
        print(f"{kind.name} {seed}: {error}", file=sys.stderr)
        row = {"refused": 1.0}
    return {"seed": seed, **row, "seconds": time.process_time() - start}


def summed(rows):
    """Return each figure over all pictures: their mean, or how many, or the worst."""
    names = dict.fromkeys(name for row in rows for name in row if name != "seed")
    out = {}
    for name in names:
        values = [row[name] for row in rows if name in row and not math.isnan(row[name])]
        if values:
            out[name] = float(np.sum(values) if name in COUNTED else np.mean(values))
        if name == "fringe" and values:
            out["worst"] = float(np.max(values))
    return out


def told(kind, rows, figures):
    """Print one kind: each figure, what is asked of it, and whether that is met."""
    print(f"\n{kind.name}, {len(rows)} pictures, seeds {rows[0]['seed']}-{rows[-1]['seed']}")
    for name, value in figures.items():
        asked = kind.targets.get(name)
        verdict = "" if asked is None else f"{asked!s:>9}  {'met' if asked.met(value) else 'MISSED'}"
        print(f"  {name:10} {value:10.3f}  {verdict:18} {FIGURES.get(name, '')}".rstrip(), flush=True)


def main(args):
    """Draw, score, print."""
    known = kinds()
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks art")
    parser.add_argument("kind", nargs="*", help=", ".join(known))
    parser.add_argument("--seeds", default="1000-1019", type=seeds_of, help="A-B; 0-99 are for tuning")
    parser.add_argument("--json", action="store_true", help="every picture's figures too")
    parser.add_argument("--each", action="store_true", help="print each picture's figures as they come")
    parser.add_argument("--look", type=Path, help="write pictures and plates to this folder")
    chosen = parser.parse_args(args)
    if unknown := [name for name in chosen.kind if name not in known]:
        parser.error(f"no kind {unknown[0]!r}: {', '.join(known)}")
    out = {}
    for name in chosen.kind or known:
        rows = []
        for seed in chosen.seeds:
            rows.append(one(known[name], seed))
            if chosen.each:
                print(name, *(f"{k}={v:.4g}" for k, v in rows[-1].items()), file=sys.stderr, flush=True)
            if chosen.look:
                _look(known[name], seed, chosen.look)
        out[name] = {"figures": summed(rows), "pictures": rows}
        if not chosen.json:
            told(known[name], rows, out[name]["figures"])
    if chosen.json:
        print(json.dumps(out))


def _look(kind, seed, folder):
    """Write one picture and its plates, where it is a picture that plates are made of."""
    from tests.benchmarks._art_measures import pictured

    picture, truth = kind.draw(seed)
    if (image := pictured(picture, truth)) is not None:
        folder.mkdir(parents=True, exist_ok=True)
        image.save(folder / f"{kind.name}-{seed}.png")
