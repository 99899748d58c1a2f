"""Which mesh each screen has and which dots, on frames that are owned where there are some.

Rows in print order in; the same rows with mesh and halftone out, and what to tell about frames.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import RGB_TO_XYZ, srgb8_to_lab
from sepkit.coverage.keep import kept
from sepkit.coverage.strokes import thin_share
from sepkit.model import Finding, Halftone, Mesh
from sepkit.plates.drafts import wish_of
from sepkit.plates.tonal.optics import Film, mean_light, stack_light, steps_of, weights_without
from sepkit.press.advice import advise_halftone, advise_mesh
from sepkit.press.jobs import GangRules
from sepkit.press.together import screens_together
from sepkit.threads import each

if TYPE_CHECKING:
    from sepkit.jobs import Screen
    from sepkit.model import RGB8, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft

WHITE_L = 80.0
"""A print lighter than this is a white or pastel, which wants an open mesh on dark cloth."""
ANGLE_STEP_DEG = 30.0
"""From one tone screen to the next where the person gave the first angle (common practice)."""
OTHER_MESH = 0.2
"""Meshes whose counts differ by more than this (natural logarithm) print differently enough to tell."""
LEAST_LIGHT = 1e-3
"""Of a mean print: less is black."""


@dataclass(frozen=True, slots=True, eq=False)
class OnScreens:
    """Rows with mesh and dots, and what to tell about the frames."""

    rows: list[PlateDraft]
    findings: tuple[Finding, ...] = ()


def on_screens(rows: Sequence[PlateDraft], bench: Bench, size: Size, *, dpi: float) -> OnScreens:
    """Return the rows each with its mesh, and with dots where it is a tone."""
    out, findings, tones = [], [], 0
    meshes = each(
        lambda row: _advised(row, bench, dpi=dpi), rows, px=max((row.coverage.size for row in rows), default=0)
    )
    for row, mesh in zip(rows, meshes, strict=True):
        screened = replace(row, mesh=mesh, halftone=None if row.tone is None else dots_of(mesh, bench, nth=tones))
        tones += row.tone is not None
        owned = nearest_owned(screened.mesh, size, bench.frames, may_turn=bench.may_turn)
        if owned is not None and owned != screened.mesh:
            findings += _other_mesh(screened, owned)
            screened = _on_mesh(screened, owned, bench)
        out.append(screened)
    if bench.wishes.solved:
        out = _turned_together(out, bench)
    return OnScreens(out, tuple(findings))


def _turned_together(rows: Sequence[PlateDraft], bench: Bench) -> list[PlateDraft]:
    """Return the rows with one ruling and angles that do not beat; a first angle that was wished is kept as it is."""
    toned = [row for row in rows if row.halftone is not None]
    if bench.wishes.angle_deg is not None or len(toned) < 2:
        return list(rows)
    strong = [one for row, one in zip(rows, strengths_of(rows, bench), strict=True) if row.halftone is not None]
    dots = screens_together(
        [row.mesh for row in toned], shape=bench.wishes.shape, lpi=bench.wishes.lpi, strengths=strong
    )
    turned = {id(row): one for row, one in zip(toned, dots, strict=True)}
    return [replace(row, halftone=turned.get(id(row), row.halftone)) for row in rows]


def strengths_of(rows: Sequence[PlateDraft], bench: Bench) -> list[float]:
    """Return how much of the mean light a whole dot of each row takes away or adds, less where it has few dots."""
    from PIL import Image

    stacks = stack_light([Film(row.ink, row.coats) for row in rows], bench.garment.reflectance)
    light = np.maximum(np.asarray(RGB_TO_XYZ[1] @ stacks.T), 0.0)[:, None]
    shares = [np.array(Image.fromarray(row.printed).histogram()) / row.printed.size for row in rows]
    cover = np.arange(256) / 255
    mean = np.array([float(share @ cover) for share in shares])
    in_dots = [2 * math.sqrt(float(share @ (cover * (1 - cover)))) for share in shares]
    whole = max(float(mean_light(mean, light)[0]), LEAST_LIGHT)
    return [
        part * abs(float((weights_without(mean, k) @ step)[0])) / whole
        for k, (part, step) in enumerate(zip(in_dots, steps_of(light), strict=True))
    ]


def mesh_of(srgb: RGB8, bench: Bench, *, has_tone: bool) -> Mesh:
    """Return the mesh that an ink would start with, before its thinnest line asks for a finer one."""
    if bench.wishes.mesh is not None:
        return bench.wishes.mesh
    return advise_mesh(role="colour", white=_is_white(srgb), dark_garment=bench.dark, has_tone=has_tone)


def dots_of(mesh: Mesh, bench: Bench, *, nth: int) -> Halftone:
    """Return the dots of the ``nth`` tone screen (0, 1, ...): as wished, else as the mesh advises."""
    wishes = bench.wishes
    advised = advise_halftone(mesh, nth=nth, shape=wishes.shape)
    angle = advised.angle_deg if wishes.angle_deg is None else wishes.angle_deg + ANGLE_STEP_DEG * nth
    return Halftone(advised.lpi if wishes.lpi is None else wishes.lpi, angle, wishes.shape)


def nearest_owned(mesh: Mesh, size: Size, frames: Sequence[Screen], *, may_turn: bool) -> Mesh | None:
    """Return the owned mesh nearest to ``mesh`` among frames that hold the print; None when none does."""
    rules = GangRules()
    upright = (size.width_mm, size.height_mm)
    ways = [upright, upright[::-1]] if may_turn else [upright]
    fitting = [
        frame.mesh
        for frame in frames
        if any(
            w <= frame.inside_width_mm - 2 * rules.edge_mm and h <= frame.inside_height_mm - 2 * rules.ends_mm
            for w, h in ways
        )
    ]
    return min(fitting, key=lambda m: abs(math.log(m.threads_per_cm / mesh.threads_per_cm)), default=None)


def _advised(row: PlateDraft, bench: Bench, *, dpi: float) -> Mesh:
    wished = wish_of(row.area, bench).mesh or bench.wishes.mesh
    return wished or advise_mesh(
        role=row.role,
        white=_is_white(row.print_srgb),
        dark_garment=bench.dark,
        has_tone=row.tone is not None,
        thin_share=lambda width_mm: kept(thin_share, row.coverage, least_mm=width_mm, dpi=dpi),
    )


def _is_white(srgb: RGB8) -> bool:
    return float(srgb8_to_lab(np.array(srgb))[0]) > WHITE_L


def _on_mesh(row: PlateDraft, mesh: Mesh, bench: Bench) -> PlateDraft:
    """Return the row on a frame that is owned; its ruling is no finer than that mesh holds unless it was wished."""
    dots = row.halftone
    if dots is not None and bench.wishes.lpi is None:
        most = advise_halftone(mesh, nth=0, shape=dots.shape).lpi
        dots = Halftone(min(dots.lpi, most), dots.angle_deg, dots.shape)
    return replace(row, mesh=mesh, halftone=dots)


def _other_mesh(row: PlateDraft, owned: Mesh) -> list[Finding]:
    if abs(math.log(owned.threads_per_cm / row.mesh.threads_per_cm)) <= OTHER_MESH:
        return []
    return [
        Finding(
            "other-mesh",
            "info",
            f"{row.name}: mesh {row.mesh} is advised, {owned} is what you own",
            "thin parts and ink weight change with it: make a test print",
        )
    ]
