"""Grams a scale can weigh: round a recipe to the scale's step, tell coarse doses, let down the small ones.

In: mass shares, the batch in g, the scale's step in g. Out: doses in g, and a let-down paste where a dose is too small.
A dose below 20 steps may be off by more than 5 % (half a step up or down, twice: dish and ink); common practice then is
a let-down: 1 part of the strong ink in 9 parts of the main one, and ten times the dose of that paste.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import UsageError
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import F64, Ink

Array = np.ndarray[Any, np.dtype[Any]]

STEPS_TO_WEIGH = 20
LET_DOWN = 0.10
"""Share of strong ink in a let-down paste."""
PASTE_SPARE = 1.25
"""Paste made per paste used."""
CAUTION_SHARE = {"plastisol concentrate": 0.15, "water-based concentrate": 0.08}
"""Total pigment concentrate above which cure and rub fastness suffer. Common practice; the maker's sheet decides."""


@dataclass(frozen=True, slots=True, eq=False)
class Dose:
    """One ink of a recipe: its share by mass, 0..1, and the grams of it that are weighed."""

    ink: Ink
    mass_share: float
    mass_g: float


@dataclass(frozen=True, slots=True)
class LetDown:
    """A paste: ``strong_g`` of a strong ink stirred into ``main_g`` of the main one; ``use_g`` of it goes in."""

    strong: str
    main: str
    strong_g: float
    main_g: float
    use_g: float

    @property
    def text(self) -> str:
        """One line for people."""
        return (
            f"let-down: {self.strong} {self.strong_g:g} g in {self.main} {self.main_g:g} g; weigh {self.use_g:g} g of "
            f"it instead of {self.use_g * LET_DOWN:.3g} g {self.strong}, and {self.use_g * (1 - LET_DOWN):.3g} g less "
            f"{self.main}"
        )


def check_batch(batch_g: float, step_g: float) -> None:
    """Raise UsageError unless the batch and the step make sense together."""
    if not (np.isfinite(step_g) and 0.0005 <= step_g <= 10):
        raise UsageError(
            f"a scale step of {step_g:g} g", where="scale", hint="0.001 to 10 g; kitchen scales have 1 or 0.1"
        )
    if not (np.isfinite(batch_g) and batch_g >= 20 * step_g and batch_g <= 200_000):
        raise UsageError(
            f"a batch of {batch_g:g} g on a scale of {step_g:g} g steps",
            where="batch",
            hint=f"from {20 * step_g:g} g to 200 kg",
        )


def round_doses(mass_shares: Array, batch_g: float, step_g: float) -> F64:
    """Return grams rounded to the step whose sum is the batch rounded to the step (largest remainders).

    >>> round_doses(np.array([0.953, 0.047]), 100, 0.1).round(3).tolist()
    [95.3, 4.7]
    """
    check_batch(batch_g, step_g)
    exact = np.asarray(mass_shares, np.float64) * batch_g / step_g
    whole = np.floor(exact + 1e-9)
    spare = round(batch_g / step_g) - int(whole.sum())
    for index in np.argsort(whole - exact)[: max(spare, 0)]:
        whole[index] += 1
    out: F64 = np.round(whole * step_g, 6)
    return out


def weigh_out(parts: Sequence[tuple[Ink, float]], batch_g: float, step_g: float) -> tuple[Dose, ...]:
    """Return the doses of ``parts`` (ink, share by mass) in a batch, rounded as round_doses does.

    Raises UsageError unless batch and step make sense together.
    """
    grams = round_doses(np.array([share for _, share in parts]), batch_g, step_g)
    return tuple(Dose(ink, float(share), float(g)) for (ink, share), g in zip(parts, grams, strict=True))


def to_steps(mass_g: float, step_g: float) -> float:
    """Return grams that a scale can weigh: rounded to its step, one step at least.

    >>> to_steps(0.234, 0.1), to_steps(0.01, 0.1)
    (0.2, 0.1)
    """
    return round(max(round(mass_g / step_g), 1) * step_g, 6)


def let_downs(doses: Sequence[Dose], step_g: float) -> tuple[LetDown, ...]:
    """Return a paste for each dose below STEPS_TO_WEIGH steps; the main ink is the heaviest one."""
    main = max(doses, key=lambda dose: dose.mass_g)
    out = []
    for dose in doses:
        if dose is main or not 0 < dose.mass_g < STEPS_TO_WEIGH * step_g:
            continue
        use = dose.mass_g / LET_DOWN
        strong = max(use * PASTE_SPARE * LET_DOWN, STEPS_TO_WEIGH * step_g)
        strong = float(np.ceil(strong / step_g - 1e-9) * step_g)
        main_g = strong * (1 - LET_DOWN) / LET_DOWN
        out.append(LetDown(dose.ink.name, main.ink.name, round(strong, 4), round(main_g, 4), round(use, 4)))
    return tuple(out)


def weighing_findings(doses: Sequence[Dose], step_g: float) -> list[Finding]:
    """Return what the person should know before weighing: lost or coarse doses, mixed kinds, too much pigment.

    An ink without a share is not weighed, and says nothing.
    """
    used = [dose for dose in doses if dose.mass_share > 0]
    return [*_scale_findings(used, step_g), *_kind_findings(used)]


def _scale_findings(used: Sequence[Dose], step_g: float) -> list[Finding]:
    out = []
    for dose in used:
        if dose.mass_g <= 0:
            text = f"{dose.ink.name} at {100 * dose.mass_share:.3g} % is below one step of the scale"
            out.append(Finding("dose-lost", "error", text, "mix a larger batch, or weigh on a finer scale"))
        elif dose.mass_g < STEPS_TO_WEIGH * step_g:
            off = f"{50 * step_g / dose.mass_g:.0f} %"
            text = f"{dose.mass_g:g} g of {dose.ink.name} on a scale of {step_g:g} g steps may be off by {off}"
            out.append(Finding("dose-coarse", "warn", text, "use the let-down paste, or mix a larger batch"))
    return out


def _kind_findings(used: Sequence[Dose]) -> list[Finding]:
    out = []
    kinds = sorted({dose.ink.kind.replace(" concentrate", "") for dose in used})
    if len(kinds) > 1:
        text = f"the recipe mixes kinds of ink: {', '.join(kinds)}"
        out.append(Finding("kinds-mixed", "error", text, "do not stir them together; use inks of one kind"))
    for kind, most in CAUTION_SHARE.items():
        total = sum(dose.mass_share for dose in used if dose.ink.kind == kind)
        if total > most:
            text = f"{100 * total:.0f} % {kind} in all"
            hint = f"above {100 * most:.0f} % cure and rub fastness suffer: ask the maker's sheet, and wash a test"
            out.append(Finding("pigment-load", "warn", text, hint))
    return out
