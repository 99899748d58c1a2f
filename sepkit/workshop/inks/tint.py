"""What a ratio of inks looks like: as an opaque film, on garments by coats, beside targets, and the steps around it.

In: inks and their parts by weight, garments, colours to compare with. Out: looks, doses, a strip as PNG, a kept recipe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.errors import UsageError
from sepkit.files.shelf.colours import parse_colour
from sepkit.inks.doses import Dose, weigh_out, weighing_findings
from sepkit.inks.looks import Look, opaque_look, printed_look
from sepkit.inks.mixing import mix
from sepkit.inks.tint import TintStep, tint_steps
from sepkit.workshop.inks import SCALE_STEP_G
from sepkit.workshop.inks.keep import InkFile, KeptInk, RecipeNotes, kept, recipe_file, writing
from sepkit.workshop.inks.lookup import weighed_inks
from sepkit.workshop.inks.pictures import Patch, write_strip

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.inks.match import Target
    from sepkit.model import Finding, Ink


@dataclass(frozen=True, slots=True)
class TintRequest:
    """Names with their parts by weight; colours to compare with; garments and coats (0.25..6) to show it on.

    ``batch_g`` asks for doses on a scale of ``step_g``.
    """

    parts: tuple[tuple[str, float], ...]
    against: tuple[str, ...] = ()
    garments: tuple[str, ...] = ()
    coats: tuple[float, ...] = (1.0, 2.0)
    batch_g: float | None = None
    step_g: float = SCALE_STEP_G


@dataclass(frozen=True, slots=True)
class TintOutputs:
    """What to write: the strip, and the recipe under a name with what the batch measured and lots as ``INK=LOT``."""

    strip: Path | None = None
    save_as: str | None = None
    measured: str | None = None
    lots: tuple[str, ...] = ()
    force: bool = False


@dataclass(frozen=True, slots=True)
class Apart:
    """ΔE00 to one of the targets, to 0.001."""

    target: str
    de00: float


@dataclass(frozen=True, slots=True)
class TintLook:
    """The recipe as ``coats`` on a garment; the opaque film where ``garment`` is None."""

    garment: str | None
    coats: float
    look: Look
    apart: tuple[Apart, ...]


@dataclass(frozen=True, slots=True)
class StripStep:
    """One step of the strip, and how far it is from the targets."""

    step: TintStep
    apart: tuple[Apart, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Tint:
    """A recipe, its looks and steps, what to know, and what was written."""

    density_g_ml: float
    doses: tuple[Dose, ...]
    """Grams for the batch; the parts by weight as they were given when none was asked for."""
    targets: tuple[str, ...]
    looks: tuple[TintLook, ...]
    """The opaque film first."""
    steps: tuple[StripStep, ...]
    findings: tuple[Finding, ...]
    strip: Path | None
    kept: KeptInk | None


def predict_tint(request: TintRequest, shelf: Shelf, outputs: TintOutputs | None = None) -> Tint:
    """Return what a ratio looks like, and write the strip and the recipe that ``outputs`` ask for: both or none.

    Raises UsageError, NotFoundError or WriteError.
    """
    outputs = outputs or TintOutputs()
    parts = weighed_inks(request.parts, shelf)
    colours = [parse_colour(text, what="--against") for text in request.against]
    targets = [colour.target for colour in colours]
    ink = mix(parts)
    looks = tuple(_looks(ink, request, shelf, targets))
    steps = tuple(StripStep(step, _apart(step.look, targets)) for step in tint_steps(parts))
    doses = _doses(parts, request)
    findings = [finding for colour in colours for finding in colour.findings]
    if request.batch_g is not None:
        findings += weighing_findings(doses, request.step_g)
    kept_ink = _write(outputs, doses, steps, targets)
    return Tint(
        density_g_ml=ink.density_g_ml,
        doses=doses,
        targets=tuple(target.name for target in targets),
        looks=looks,
        steps=steps,
        findings=tuple(findings),
        strip=outputs.strip,
        kept=kept_ink,
    )


def _write(
    outputs: TintOutputs, doses: Sequence[Dose], steps: Sequence[StripStep], targets: Sequence[Target]
) -> KeptInk | None:
    """Write what is asked for, both or none: the ink file is open, and then in its place once the strip is in its."""
    with ExitStack() as stack:
        file = None if outputs.save_as is None else _recipe_file(outputs.save_as, outputs, doses, targets)
        if file is not None:
            stack.enter_context(writing(file, force=outputs.force))
        if outputs.strip is not None:
            *others, last = (dose.ink.name for dose in doses)
            heading = f"{last} in {' + '.join(others)}, % by weight"
            write_strip(heading, [_patch(step) for step in steps], targets, outputs.strip, force=outputs.force)
    return None if file is None else kept(file)


def _doses(parts: Sequence[tuple[Ink, float]], request: TintRequest) -> tuple[Dose, ...]:
    total = sum(amount for _, amount in parts)
    if request.batch_g is None:
        return tuple(Dose(ink, amount / total, amount) for ink, amount in parts)
    return weigh_out([(ink, amount / total) for ink, amount in parts], request.batch_g, request.step_g)


def _looks(ink: Ink, request: TintRequest, shelf: Shelf, targets: Sequence[Target]) -> Iterator[TintLook]:
    film = opaque_look(ink)
    yield TintLook(None, 0.0, film, _apart(film, targets))
    for garment in [shelf.garment(name) for name in request.garments]:
        for coats in request.coats:
            look = printed_look([(ink, coats)], garment.reflectance)
            yield TintLook(garment.name, coats, look, _apart(look, targets))


def _apart(look: Look, targets: Sequence[Target]) -> tuple[Apart, ...]:
    return tuple(Apart(t.name, round(float(delta_e_2000(np.array(look.lab), t.lab)), 3)) for t in targets)


def _patch(strip_step: StripStep) -> Patch:
    step, apart = strip_step.step, strip_step.apart
    note = f"ΔE00 {apart[0].de00:.1f}" if apart else ""
    return Patch(step.look, f"{step.percent:g} %{' (asked)' if step.asked else ''}", note=note)


def _recipe_file(name: str, outputs: TintOutputs, doses: Sequence[Dose], targets: Sequence[Target]) -> InkFile:
    notes = RecipeNotes(
        target=targets[0] if targets else None,
        measured=parse_colour(outputs.measured, what="--measured").target if outputs.measured else None,
        lots=_lots(outputs.lots, {dose.ink.name for dose in doses}),
    )
    return recipe_file(name, doses, notes)


def _lots(texts: Sequence[str], names: set[str]) -> dict[str, str]:
    """Return lot numbers by ink name. Raises UsageError for a text that is not ``INK=LOT`` or names no part."""
    out = {}
    for text in texts:
        name, sign, lot = text.partition("=")
        if not sign or name.strip() not in names:
            raise UsageError(f'"{text}" names no part', where="--lot", hint=f"write {sorted(names)[0]}=LOT")
        out[name.strip()] = lot.strip()
    return out
