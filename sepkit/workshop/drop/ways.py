"""Prints of more screens than heads: how each is carried out, and the ways out with their price.

In: a Job, the facts of its prints, pieces. Out: a Staged for each print, WayOuts to tell, and what must be made anew
for the way that is taken: fewer inks, or a base drawn in further for a second day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.press.minutes import LOAD_FLEECE_S, LOAD_S, PRESS_HANDLING_S, UNLOAD_S
from sepkit.press.staging import (
    HeadsAndPlatens,
    Prices,
    PrintScreens,
    Staged,
    WayOut,
    best_platens,
    change_min,
    staged,
)
from sepkit.sheets.words import clock, counted
from sepkit.units import MM_PER_INCH, parse_hex
from sepkit.workshop.drop.facts import ink_family
from sepkit.workshop.drop.small import smaller_plate

if TYPE_CHECKING:
    from sepkit.jobs import Job
    from sepkit.model import Plate
    from sepkit.workshop.drop.facts import InkStep, PrintFacts
    from sepkit.workshop.drop.prints import JobPrint

SHRINK_PX = 500


@dataclass(frozen=True, slots=True)
class WaysOut:
    """A print that does not fit the heads: the way taken, and what each way costs."""

    label: str
    screens: int
    heads: int
    taken: str
    """Empty where none can be taken."""
    ways: tuple[WayOut, ...]


def press_of(job: Job) -> HeadsAndPlatens:
    """Return what of the job's press decides."""
    return HeadsAndPlatens(job.press.heads, job.press.garments_held, job.press.platens_come_off)


def staged_print(job: Job, facts: PrintFacts, pieces: int) -> Staged | None:
    """Return how a print is carried out, None where it must have fewer inks."""
    return staged(screens_of(facts), press_of(job), way=facts.print.print.way, pieces=pieces)


def screens_of(facts: PrintFacts) -> PrintScreens:
    """Return the screens of a print."""
    bases = 0
    for image in facts.images:
        if not image.plate.is_base and ink_family(image.plate.ink.srgb) != "white":
            break
        bases += 1
    return PrintScreens(len(facts.images), facts.rounds, facts.parted, bases)


def made_otherwise(job: Job, facts: PrintFacts, pieces: int) -> JobPrint | None:
    """Return the print as it must be made for its way, None where it stands as it is."""
    screens = screens_of(facts)
    if screens.count <= job.press.heads or not screens.parted:
        return None
    way = staged_print(job, facts, pieces)
    if way is None:
        step = fewer_inks(job, facts)
        if step is None:
            return None
        named = _named_inks(facts, step)
        return replace(facts.print, inks=named or "auto", screens=None if named else job.press.heads)
    error_mm = facts.register_error_mm
    if way.way == "two days":
        error_mm = job.press.jig_mm
    elif way.way == "batches" and job.press.platens_come_off:
        error_mm = float(np.hypot(error_mm, job.press.refit_mm))
    if error_mm <= facts.register_error_mm + 1e-6:
        return None
    # Colours of one day fall on each other as ever; what was put back lies farther off.
    return replace(facts.print, choke_mm=error_mm, trap_mm=None if way.way == "two days" else error_mm)


def fewer_inks(job: Job, facts: PrintFacts) -> InkStep | None:
    """Return the step within the heads that loses least; None where none fits."""
    fitting = [step for step in facts.ladder if step.screens <= job.press.heads]
    return min(fitting, key=lambda step: (round(step.lost_de00, 2), step.screens), default=None)


def ways_out(job: Job, facts: PrintFacts, pieces: int) -> WaysOut | None:
    """Return the ways out of a print that the heads do not hold and that must not be loaded again; None for others."""
    screens = screens_of(facts)
    if screens.count <= job.press.heads or not screens.parted:
        return None
    way = staged_print(job, facts, pieces)
    step = fewer_inks(job, facts)
    taken = way.way if way is not None else "fewer inks" if step is not None else ""
    ways = (
        _fewer(step, facts),
        _platens(job, screens, pieces),
        *_batches(job, screens, pieces),
        _days(job, facts, pieces),
    )
    return WaysOut(facts.print.label, screens.count, job.press.heads, taken, ways)


def _fewer(step: InkStep | None, facts: PrintFacts) -> WayOut:
    if step is None:
        return WayOut("fewer inks", False, 0.0, 0.0, "no number of inks fits the heads on this cloth")
    full = facts.ladder[-1]
    lost = f"; {', '.join(step.lost)}" if step.lost else ""
    words = (
        f"{counted(step.inks, 'ink')}, {counted(step.screens, 'screen')}: ΔE00 {step.mean_de00:.1f} on "
        f"average instead of {full.mean_de00:.1f}{lost}"
    )
    return WayOut("fewer inks", True, 0.0, 0.0, words)


def _prices(job: Job) -> Prices:
    return Prices(job.money.hour, job.money.platen)


def _platens(job: Job, screens: PrintScreens, pieces: int) -> WayOut:
    held, minutes, money = best_platens(screens.count, press_of(job), pieces, _prices(job))
    words = (
        f"{held} platens that come off with their garments pay most for {counted(pieces, 'garment')}: "
        f"{clock(minutes)} of changing screens, a platen at {job.money.platen:.0f} {job.money.currency}; each must go "
        f"back within {job.press.register_error_mm:g} mm"
    )
    return WayOut("platens", True, minutes, money, words)


def _batches(job: Job, screens: PrintScreens, pieces: int) -> list[WayOut]:
    press = press_of(job)
    if press.held < 2:
        return []
    minutes = change_min(screens.count, press, pieces)
    words = (
        f"{counted(-(-pieces // press.held), 'batch').replace('batchs', 'batches')} of {press.held}, each on its platen"
    )
    return [
        WayOut("batches", True, minutes, _prices(job).of(minutes), f"{words}: {clock(minutes)} of changing screens")
    ]


def _days(job: Job, facts: PrintFacts, pieces: int) -> WayOut:
    way = staged(screens_of(facts), press_of(job), way="two days", pieces=pieces)
    if way is None:
        return WayOut(
            "two days", False, 0.0, 0.0, "base and white by themselves, or the colours, need more heads still"
        )
    fleece = facts.print.garment.fleece
    seconds = (LOAD_FLEECE_S if fleece else LOAD_S) + UNLOAD_S + job.heat_press.seconds + PRESS_HANDLING_S
    minutes = pieces * seconds / 60.0
    shows = base_showing_mm2([image.plate for image in facts.images], facts.width_mm, job.press.jig_mm)
    words = (
        f"base and white one day, colours the next against a jig that holds to {job.press.jig_mm:g} mm: "
        f"{shows:.0f} mm² of base peek out in the worst case unless the base is drawn in as far"
    )
    return WayOut("two days", True, minutes, _prices(job).of(minutes), words)


def base_showing_mm2(plates: Sequence[Plate], width_mm: float, error_mm: float) -> float:
    """Return the base that peeks out in the worst case when base and white fall ``error_mm`` from the colours."""
    from sepkit.preview.scene import Grid, Scene

    small = [smaller_plate(plate, most_px=SHRINK_PX) for plate in plates]
    dpi = small[0].printed.shape[1] * MM_PER_INCH / width_mm
    scene = Scene.of(small, "printed", Grid.of(small[0].printed.shape, dpi, error_mm))
    return max((peek for shift, peek, _ in scene.areas_mm2() if small[shift.plate].is_base), default=0.0)


def _named_inks(facts: PrintFacts, step: InkStep) -> str:
    """Return those of the inks that the job names which come nearest to a step; empty where it names none."""
    told = facts.print.print.inks
    named = [part.strip() for part in told.split(",") if part.strip()]
    if told in ("auto", "all") or told.isdigit() or not step.colours:
        return ""
    colours = {image.plate.ink.name: image.plate.ink.srgb for image in facts.images}
    known = {
        name: colours[name] if name in colours else parse_hex(name)
        for name in named
        if name in colours or name[0] == "#"
    }
    lab = {name: srgb8_to_lab(np.array(srgb, np.uint8)) for name, srgb in known.items()}
    kept: list[str] = []
    for colour in step.colours:
        near = srgb8_to_lab(np.array(colour, np.uint8))
        free = [name for name in lab if name not in kept]
        if free:
            kept.append(min(free, key=lambda name: float(delta_e_2000(lab[name], near))))
    return ",".join(name for name in named if name in kept)
