"""What to gang, from a job file or from words: frames, prints by size, prints by print folder.

In: a job file, or texts such as ``400x500mm:55-64`` and ``back=320x380mm:white``. Out: GangInput: items, frames, rules
and the art where there is some. A frame without a mesh takes any mesh that the prints ask for; a print without a mesh
takes the frames' only one; plates of a print folder go on the nearest mesh that a frame has.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import log
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError, UsageError
from sepkit.jobs import Screen
from sepkit.model import Finding, Mesh
from sepkit.press.gang.plan import GangPlan, gang_screens
from sepkit.press.jobs import GangItem
from sepkit.press.mesh import halftone_findings
from sepkit.units import parse_hex
from sepkit.workshop.gang.gang import ItemArt, ScreenOutput
from sepkit.workshop.gang.told import UNTOLD_MESH, ToldFrame, ToldPrint, told_frame, told_prints

if TYPE_CHECKING:
    from sepkit.model import RGB8, Progress
    from sepkit.press.sheet import Sheet

OTHER_MESH = 0.2
"""Meshes whose counts differ by more than this (natural logarithm) print differently enough to warn."""


@dataclass(frozen=True, slots=True)
class GangInput:
    """A plan to be written."""

    plan: GangPlan
    art: dict[str, ItemArt]
    output: ScreenOutput


def gang_of_texts(
    screens: Sequence[str], prints: Sequence[str], *, sideways: Sequence[str] = (), output: ScreenOutput
) -> GangInput:
    """Return the plan for frames and prints as told. Raises UsageError, NotFoundError or WriteError with one line."""
    told = [one for text in prints for one in told_prints(text)]
    unknown = sorted(set(sideways) - {one.told_name for one in told})
    if unknown:
        raise UsageError(f'no print is named "{unknown[0]}"', where="--sideways", hint="name one of --print")
    frames = [told_frame(text) for text in screens]
    told = _with_meshes(told, frames)
    told, findings = _on_frames(told, frames, dpi=output.dpi)
    items = [one.item(may_turn_90=one.told_name in sideways) for one in told]
    plan = gang_screens(items, _owned(frames, told), rules=output.rules)
    return GangInput(
        replace(plan, findings=(*plan.findings, *findings)),
        {one.name: one.art for one in told if one.art},
        replace(output, inks=_inks_known(items)),
    )


def gang_of_job(path: Path, *, sheet: Sheet | None = None, progress: Progress | None = None) -> GangInput:
    """Return the plan of a job file, its prints separated anew; without a sheet films are for the job's own printer.

    Raises as ``sepkit job`` does.
    """
    from sepkit.workshop.drop.facts import read_facts
    from sepkit.workshop.drop.load import load_job
    from sepkit.workshop.drop.make import fingerprint, made_for_heads
    from sepkit.workshop.drop.plan import gang_rules, plan_job
    from sepkit.workshop.drop.prints import job_prints, make_job_prints
    from sepkit.workshop.gang.screen_films import sheet_of

    job = load_job(path)
    prints = job_prints(job, recipes=fingerprint())
    with tempfile.TemporaryDirectory(prefix="sepkit-gang-") as folder:
        make_job_prints(job, prints, Path(folder), old=None, kept={}, progress=progress)
        prints, ways = made_for_heads(job, prints, Path(folder), progress=progress)
        facts = read_facts(prints, Path(folder))
    plan = plan_job(job, facts, ways=ways)
    facts = plan.prints
    art = {
        image.name: ItemArt(image.plate, one.width_mm, one.height_mm, one.making, image.beside)
        for one in facts
        for image in one.images
    }
    order = [pull.image for step in plan.order.steps for pull in step.run.pulls]
    output = ScreenOutput(
        gang_rules(job),
        {name: ink.srgb for name, ink in plan.inks.items()},
        sheet or sheet_of(job.film),
        job.film.dpi,
        job.title,
        tuple(dict.fromkeys(order)),
    )
    return GangInput(plan.gang, art, output)


def ink_srgb(name: str) -> RGB8 | None:
    """Return the colour of an ink of the shelf or of ``#rrggbb``; None for another word.

    Raises DataFileError for a broken ink file.
    """
    from sepkit.files.shelf.shelf import Shelf

    try:
        return parse_hex(name) if name.startswith("#") else Shelf().ink(name).srgb
    except (NotFoundError, UsageError):
        return None


def _inks_known(items: Sequence[GangItem]) -> dict[str, RGB8]:
    return {item.ink: srgb for item in items if (srgb := ink_srgb(item.ink)) is not None}


def _distinct(meshes: Iterable[Mesh | None]) -> list[Mesh]:
    """Return the meshes that are told, each once, coarse to fine."""
    return sorted({mesh for mesh in meshes if mesh is not None}, key=lambda m: (m.threads_per_cm, m.thread_um))


def _with_meshes(told: Sequence[ToldPrint], frames: Sequence[ToldFrame]) -> list[ToldPrint]:
    """Give prints without a mesh the only one that the frames have."""
    known = _distinct(frame.mesh for frame in frames)
    untold = next((one.name for one in told if one.mesh is None), None)
    if untold is not None and len(known) > 1:
        raise UsageError(
            f"{untold} has no mesh, and the frames have {', '.join(str(mesh) for mesh in known)}",
            where="--print",
            hint=f"add one, as {untold}=320x380mm:white:{known[0]}",
        )
    only = known[0] if known else UNTOLD_MESH
    return [replace(one, mesh=one.mesh or only) for one in told]


def _on_frames(
    told: Sequence[ToldPrint], frames: Sequence[ToldFrame], *, dpi: float
) -> tuple[list[ToldPrint], list[Finding]]:
    """Put plates of print folders on the nearest mesh that a frame has, and tell what that changes."""
    known = [frame.mesh for frame in frames if frame.mesh is not None]
    if len(known) < len(frames) or not known:
        return list(told), []
    out: list[ToldPrint] = []
    findings: list[Finding] = []
    for one in told:
        if one.art is None or one.mesh is None or one.mesh in known:
            out.append(one)
            continue
        mesh, words = _nearest(one.name, one.mesh, known)
        findings.append(words)
        plate = replace(one.art.plate, mesh=mesh)
        if plate.halftone is not None:
            findings += halftone_findings(plate.halftone, mesh, dpi=dpi, plate=one.name)
        out.append(replace(one, mesh=mesh, art=replace(one.art, plate=plate)))
    return out, findings


def _nearest(name: str, wanted: Mesh, known: Sequence[Mesh]) -> tuple[Mesh, Finding]:
    """Return the mesh nearest to the one that a plate was made for, and what is told of it."""

    def far(mesh: Mesh) -> float:
        return abs(log(mesh.threads_per_cm / wanted.threads_per_cm))

    mesh = min(known, key=lambda m: (far(m), m.thread_um))
    return mesh, Finding(
        "other-mesh",
        "warn" if far(mesh) > OTHER_MESH else "info",
        f"{name} is made for mesh {wanted}, and goes on {mesh}",
        "thin parts and ink weight change with it: make a test print",
    )


def _owned(frames: Sequence[ToldFrame], told: Sequence[ToldPrint]) -> list[Screen]:
    """Return the frames; one without a mesh stands for a frame of each mesh that is asked for."""
    asked = _distinct(one.mesh for one in told)
    out: list[Screen] = []
    for frame in frames:
        for mesh in [frame.mesh] if frame.mesh is not None else asked:
            several = frame.mesh is None and len(asked) > 1
            name = f"{frame.screen.name} {mesh}" if several else frame.screen.name
            out.append(replace(frame.screen, name=name, mesh=mesh))
    return out
