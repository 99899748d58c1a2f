"""What to gang, from a job file or from words: frames, prints by size, prints by print folder.

In: a job file, or texts such as ``400x500mm:55-64`` and ``back=320x380mm:white``. Out: GangInput: items, frames, rules
and the art where there is some. A frame without a mesh takes any mesh that the prints ask for; a print without a mesh
takes the frames' only one; plates of a print folder go on the nearest mesh that a frame has.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError, UsageError
from sepkit.jobs import Screen
from sepkit.model import Finding, Mesh
from sepkit.press.gang.plan import GangPlan, gang_screens, mesh_text
from sepkit.press.jobs import GangItem
from sepkit.press.mesh import halftone_findings
from sepkit.units import parse_hex, parse_size_mm
from sepkit.workshop.gang.gang import ItemArt, ScreenOutput

if TYPE_CHECKING:
    from sepkit.model import RGB8, Progress
    from sepkit.press.sheet import Sheet

UNTOLD_MESH = Mesh(55, 64)
"""Between bold white and fine type, where nobody names a mesh (common practice)."""
ANY_COUNT = 99
OTHER_MESH = 0.2
"""Meshes whose counts differ by more than this (natural logarithm) print differently enough to warn."""
_SIZE = re.compile(r"^\s*[\d.,]+\s*[a-zµ\"]*\s*[x×]\s*[\d.,]+\s*[a-zµ\"]*\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class GangInput:
    """A plan to be written."""

    plan: GangPlan
    art: dict[str, ItemArt]
    output: ScreenOutput


@dataclass(frozen=True, slots=True)
class _Told:
    """One print as told; the mesh may be open."""

    name: str
    width_mm: float
    height_mm: float
    ink: str
    mesh: Mesh | None
    load: str = ""
    art: ItemArt | None = None


def gang_of_texts(
    screens: Sequence[str], prints: Sequence[str], *, sideways: Sequence[str] = (), output: ScreenOutput
) -> GangInput:
    """Return the plan for frames and prints as told. Raises UsageError, NotFoundError or WriteError with one line."""
    told = [one for text in prints for one in _print(text)]
    unknown = sorted(set(sideways) - {one.load or one.name for one in told})
    if unknown:
        raise UsageError(f'no print is named "{unknown[0]}"', where="--sideways", hint="name one of --print")
    frames = [_screen(text) for text in screens]
    told = _with_meshes(told, [mesh for _, mesh in frames])
    told, findings = _on_frames(told, [mesh for _, mesh in frames], dpi=output.dpi)
    owned = _owned(frames, [one.mesh for one in told if one.mesh is not None])
    items = [
        GangItem(
            one.name,
            one.width_mm,
            one.height_mm,
            one.ink,
            one.mesh or UNTOLD_MESH,
            may_turn_90=(one.load or one.name) in sideways,
            ink=one.ink,
            load=one.load,
        )
        for one in told
    ]
    inks = {item.ink: srgb for item in items if (srgb := ink_srgb(item.ink)) is not None}
    plan = gang_screens(items, owned, rules=output.rules)
    plan = replace(plan, findings=(*plan.findings, *findings))
    return GangInput(plan, {one.name: one.art for one in told if one.art}, replace(output, inks=inks))


def gang_of_job(path: Path, *, sheet: Sheet | None = None, progress: Progress | None = None) -> GangInput:
    """Return the plan of a job file, its prints separated anew; without a sheet films are for the job's own printer.

    Raises as ``sepkit job`` does.
    """
    from sepkit.workshop.drop.facts import read_facts
    from sepkit.workshop.drop.load import load_job
    from sepkit.workshop.drop.make import fingerprint
    from sepkit.workshop.drop.plan import gang_rules, plan_job
    from sepkit.workshop.drop.prints import job_prints, make_job_prints
    from sepkit.workshop.gang.screen_films import sheet_of

    job = load_job(path)
    prints = job_prints(job, recipes=fingerprint())
    with tempfile.TemporaryDirectory(prefix="sepkit-gang-") as folder:
        make_job_prints(job, prints, Path(folder), old=None, kept={}, progress=progress)
        facts = read_facts(prints, Path(folder))
    plan = plan_job(job, facts)
    art = {
        image.name: ItemArt(image.plate, one.width_mm, one.height_mm, one.making)
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
    from sepkit.files.shelf.inkfile import find_ink

    try:
        return parse_hex(name) if name.startswith("#") else find_ink(name).srgb
    except (NotFoundError, UsageError):
        return None


def _screen(text: str) -> tuple[Screen, Mesh | None]:
    """Read ``[NAME=]WxH[:MESH][:COUNT]``."""
    name, size, rest = _parts(text, "--screen")
    width, height = parse_size_mm(size, what="--screen")
    count, mesh = ANY_COUNT, None
    for part in rest:
        if part.isdigit() and int(part) <= ANY_COUNT and not mesh_like(part):
            count = int(part)
        else:
            mesh = _mesh(part)
    return Screen(name or size.strip(), width, height, mesh or UNTOLD_MESH, count), mesh


def _print(text: str) -> list[_Told]:
    """Read ``NAME=WxH[:INK][:MESH]`` or ``NAME=FOLDER``, a print folder whose plates are all placed."""
    name, size, rest = _parts(text, "--print")
    if not name:
        raise UsageError(f'"{text}" has no name', where="--print", hint="write it as back=320x380mm:white")
    if not _SIZE.match(size):
        return _folder(name, text.split("=", 1)[1].strip())
    width, height = parse_size_mm(size, what=f"--print {name}")
    mesh = None
    if rest and mesh_like(rest[-1]):
        mesh = _mesh(rest.pop())
    if len(rest) > 1:
        raise UsageError(f'"{text}" has too many parts', where="--print", hint="write it as back=320x380mm:white:55-64")
    return [_Told(name, width, height, rest[0].strip() if rest else "", mesh)]


def _folder(name: str, text: str) -> list[_Told]:
    from sepkit.files.folders.print_folder import read_print_folder

    folder = Path(text)
    if not folder.is_dir():
        raise UsageError(
            f'"{text}" is neither a size nor a print folder',
            where=f"--print {name}",
            hint="write a size as 320x380mm, or give a folder that `sepkit separate` made",
        )
    read = read_print_folder(folder)
    size = (read.width_mm, read.height_mm)
    making = read.record.film.making
    return [
        _Told(f"{name}/{plate.name}", *size, plate.ink.name, plate.mesh, load=name, art=ItemArt(plate, *size, making))
        for plate in read.plates
    ]


def _parts(text: str, where: str) -> tuple[str, str, list[str]]:
    name, equals, value = text.partition("=")
    if not equals:
        name, value = "", text
    size, *rest = value.split(":")
    if not size.strip():
        raise UsageError(f'"{text}" has no size', where=where, hint="write a size as 400x500mm")
    return name.strip(), size, rest


def mesh_like(text: str) -> bool:
    """Return whether a word is a mesh: 55-64, 140tpi, 55/cm."""
    return bool(re.match(r"^\s*\d+(?:[.,]\d+)?\s*(?:-\s*\d+|tpi|/cm)", text, re.IGNORECASE))


def _mesh(text: str) -> Mesh:
    from sepkit.files.shelf.recipes import find_mesh

    return find_mesh(text.strip())


def _with_meshes(told: Sequence[_Told], meshes: Sequence[Mesh | None]) -> list[_Told]:
    """Give prints without a mesh the only one that the frames have."""
    known = sorted({(m.threads_per_cm, m.thread_um) for m in meshes if m is not None})
    if any(one.mesh is None for one in told) and len(known) > 1:
        name = next(one.name for one in told if one.mesh is None)
        raise UsageError(
            f"{name} has no mesh, and the frames have {', '.join(mesh_text(Mesh(*m)) for m in known)}",
            where="--print",
            hint=f"add one, as {name}=320x380mm:white:{mesh_text(Mesh(*known[0]))}",
        )
    only = Mesh(*known[0]) if known else UNTOLD_MESH
    return [replace(one, mesh=one.mesh or only) for one in told]


def _on_frames(
    told: Sequence[_Told], meshes: Sequence[Mesh | None], *, dpi: float
) -> tuple[list[_Told], list[Finding]]:
    """Put plates of print folders on the nearest mesh that a frame has, and tell what that changes."""
    known = [mesh for mesh in meshes if mesh is not None]
    if None in meshes or not known:
        return list(told), []
    out, findings = [], []
    for one in told:
        if one.art is None or one.mesh is None or one.mesh in known:
            out.append(one)
            continue
        wanted = one.mesh
        mesh = min(known, key=lambda m: (abs(log(m.threads_per_cm / wanted.threads_per_cm)), m.thread_um))
        far = abs(log(mesh.threads_per_cm / wanted.threads_per_cm)) > OTHER_MESH
        findings.append(
            Finding(
                "other-mesh",
                "warn" if far else "info",
                f"{one.name} is made for mesh {mesh_text(wanted)}, and goes on {mesh_text(mesh)}",
                "thin parts and the weight of the ink film change with the mesh: make a test print",
            )
        )
        plate = replace(one.art.plate, mesh=mesh)
        if plate.halftone is not None:
            findings += halftone_findings(plate.halftone, mesh, dpi=dpi, plate=one.name)
        out.append(replace(one, mesh=mesh, art=replace(one.art, plate=plate)))
    return out, findings


def _owned(frames: Sequence[tuple[Screen, Mesh | None]], asked: Sequence[Mesh]) -> list[Screen]:
    """Return the frames; one without a mesh stands for a frame of each mesh that is asked for."""
    meshes = sorted({(m.threads_per_cm, m.thread_um) for m in asked})
    out: list[Screen] = []
    for frame, mesh in frames:
        for one in [mesh] if mesh is not None else [Mesh(*m) for m in meshes]:
            several = mesh is None and len(meshes) > 1
            out.append(replace(frame, name=f"{frame.name} {mesh_text(one)}" if several else frame.name, mesh=one))
    return out
