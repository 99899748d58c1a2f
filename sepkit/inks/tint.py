"""A tint strip: how a recipe turns as one ink of it grows, the others keeping their proportions.

In: (ink, parts by weight). Out: the opaque film at each share of the last ink, % by weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.inks.looks import Look, opaque_look
from sepkit.inks.mixing import mix

if TYPE_CHECKING:
    from sepkit.model import Ink

STEPS_PERCENT = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""Shares that a strip shows beside the one asked for: where most tints lie (common practice)."""


@dataclass(frozen=True, slots=True)
class TintStep:
    """The opaque film with ``percent`` by weight of the last ink; ``asked`` is True for the recipe's own share."""

    percent: float
    asked: bool
    look: Look


def tint_steps(parts: Sequence[tuple[Ink, float]]) -> tuple[TintStep, ...]:
    """Return the strip of the last of ``parts`` (ink, parts by weight); empty when nothing but it weighs anything."""
    *others, (last, weight) = parts
    rest = sum(amount for _, amount in others)
    if rest <= 0:
        return ()
    own = 100 * weight / (weight + rest)
    out = []
    for percent in sorted({*STEPS_PERCENT, round(own, 3)}):
        ink = mix([*((ink, amount * (100 - percent) / rest) for ink, amount in others), (last, percent)])
        out.append(TintStep(percent, abs(percent - own) < 1e-3, opaque_look(ink)))
    return tuple(out)
