"""The contract of the art benchmark: kinds of art, each drawn from a seed with its exact truth, and scored.

A module ``tests/benchmarks/_art_NAME.py`` joins the benchmark by naming its kinds in a tuple ``KINDS``:

    KINDS = (Kind("pencil", draw, score, {"fringe": below(0.05)}),)

``draw(seed)`` gives (picture, truth): whatever ``score`` reads, an Artwork, the bytes of a file, a path. The same
seed draws the same picture for ever. ``score(picture, truth)`` runs the package and gives a row of figures by name;
NaN where a figure says nothing of this picture. An error that the package raises is a refusal: the frame counts it.
Figures of all kinds use one name for one thing; :data:`FIGURES` says what each means and how it is summed up.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

FIGURES = {
    "count ok": "% of pictures in which the inks found are as many as were drawn",
    "fringe": "% of edge pixels with 15 % or more of an ink that is nowhere near",
    "worst": "the same in the worst picture",
    "specks": "spots of an ink under 0.3 mm where it has none, outside drawn tones",
    "lost": "parts of 0.3 mm and more that vanished",
    "edge pp": "half the summed difference of coverage on edge pixels, percentage points",
    "edge ok": "% of outlines, true and found, within 0.3 source pixels of one another",
    "ringing": "inks that were not drawn",
    "toned": "% of inked pixels of flat art that became halftone",
    "as paper": "% of drawings on paper that are told as such",
    "found": "% of drawings whose sheet and strokes are found",
    "one ink": "% of drawings of one pen that are one ink",
    "pens ok": "% of drawings of several pens with as many inks",
    "edge": "% of the true outline within 0.15 mm, laid on by shift, turn and scale",
    "shape": "the same with proportions let go too",
    "paper specks": "marks per dm² of sheet where nothing was drawn",
    "figure ok": "% of one-colour art of which just the figure prints",
    "proposed": "% of art that would not print as meant for which an ink is proposed",
    "proposed ok": "% of proposed inks that print just the figure",
    "false": "% of art that prints as meant for which one is proposed too",
    "swapped": "wished colours that did not become the ink",
    "refused": "pictures that ended in an error",
    "levels off": "the most that a plate is off an outside interpreter's, in levels of 255",
    "equal": "% of pages of which every plate is within 1 level of the interpreter's",
    "names": "% of pages whose plates have the interpreter's names",
    "told": "% of pictures that were called a scan of print",
    "ruling ok": "% of scans whose ruling (3 %) and angle (2 degrees) were told right",
    "flat dE00": "mean ΔE00 of the least even flat area from its mean, dots averaged out",
    "ruling left": "% of the energy at the old ruling that is left, in the worst flat area",
}
"""Figures that most kinds share: each is the mean over pictures, but for "worst" and those that count pictures."""

Figures = dict[str, float]


@dataclass(frozen=True)
class Target:
    """A bound of a figure as summed up over pictures."""

    bound: float
    upward: bool

    def met(self, value: float) -> bool:
        return value >= self.bound if self.upward else value <= self.bound

    def __str__(self) -> str:
        return f"{'≥' if self.upward else '≤'} {self.bound:g}"


def below(bound: float) -> Target:
    """Return the target of a figure that is to be at most ``bound``."""
    return Target(bound, upward=False)


def above(bound: float) -> Target:
    """Return the target of a figure that is to be at least ``bound``."""
    return Target(bound, upward=True)


@dataclass(frozen=True)
class Kind:
    """A kind of art: how it is drawn, how a result is scored, and what is asked of it."""

    name: str
    draw: Callable[[int], tuple[Any, Any]]
    score: Callable[[Any, Any], Figures]
    targets: dict[str, Target] = field(default_factory=dict)


def kinds() -> dict[str, Kind]:
    """Return the kinds of all modules ``_art_*`` beside this one, by name."""
    import tests.benchmarks

    names = sorted(m.name for m in pkgutil.iter_modules(tests.benchmarks.__path__) if m.name.startswith("_art_"))
    found = [getattr(importlib.import_module(f"tests.benchmarks.{name}"), "KINDS", ()) for name in names]
    return {kind.name: kind for some in found for kind in some}
