"""Mesh and halftone advice for a plate: where to start, by what the plate carries.

Mesh counts by use, and the thinnest line that each prints on garments, are common practice (no single source); a
measured figure of the shop's own replaces them. The rule tpi >= 4 x lpi is a start that `moire` checks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from sepkit.model import DotShape, Halftone, Mesh, Role
from sepkit.press.moire import suggest
from sepkit.units import threads_per_cm_to_tpi

USABLE_MM: dict[Mesh, tuple[float, float]] = {
    Mesh(43, 80): (0.50, 0.75),
    Mesh(55, 64): (0.40, 0.60),
    Mesh(62, 60): (0.35, 0.55),
    Mesh(77, 55): (0.30, 0.50),
    Mesh(90, 40): (0.25, 0.40),
    Mesh(120, 34): (0.20, 0.35),
}
"""Thinnest printed line and open gap in mm, coarse to fine (common practice, from memory)."""

FOR_BASE, FOR_WHITE_ON_DARK, FOR_COLOUR, FOR_TONES = Mesh(43, 80), Mesh(55, 64), Mesh(62, 60), Mesh(77, 55)
"""What each use starts from (common practice)."""

FINEST_THAT_COVERS = Mesh(77, 55)
"""A finer mesh lays down too little white to cover dark cloth (common practice)."""

THIN_SHARE = 0.01
"""Tips and serifs are thin in any art; more than this share of a plate means thin lines."""

LPI_PER_TPI = 1 / 4.3
DEFAULT_LPI = 45.0
ANGLES_DEG = (22.5, 52.5, 82.5, 7.5)
"""Screen angles in the order plates need them: clear of the threads, 30 degrees apart (common practice)."""


def advise_mesh(
    *, role: Role, white: bool, dark_garment: bool, has_tone: bool, thin_share: Callable[[float], float] | None = None
) -> Mesh:
    """Return a mesh to start with: open for white and bases, finer for tones and for thin lines.

    ``thin_share`` tells which share of the plate's ink is thinner than a width in mm. The mesh is the first, from the
    start of its use, that holds all but THIN_SHARE of what the finest one holds: a finer mesh lays down less ink, and
    hairlines that none holds are no reason for it. White and bases on dark cloth stop at FINEST_THAT_COVERS.
    """
    if has_tone:
        return FOR_TONES
    white_on_dark = white and dark_garment
    start = FOR_BASE if role == "underbase" else FOR_WHITE_ON_DARK if white_on_dark else FOR_COLOUR
    if thin_share is None:
        return start
    finest = FINEST_THAT_COVERS.threads_per_cm if role == "underbase" or white_on_dark else math.inf
    meshes = [mesh for mesh in USABLE_MM if start.threads_per_cm <= mesh.threads_per_cm <= finest]
    return _that_holds(meshes, thin_share)


def _that_holds(meshes: Sequence[Mesh], thin_share: Callable[[float], float]) -> Mesh:
    """Return the coarsest of the meshes, coarse to fine, that holds what the finest one does."""
    at, thin = 0, thin_share(USABLE_MM[meshes[0]][0])
    if thin <= THIN_SHARE:
        return meshes[0]
    lost = thin_share(USABLE_MM[meshes[-1]][0])
    while at < len(meshes) - 1 and thin - lost > THIN_SHARE:
        at += 1
        thin = thin_share(USABLE_MM[meshes[at]][0])
    return meshes[at]


def usable_mm(mesh: Mesh) -> tuple[float, float]:
    """Return the thinnest line and gap in mm that ``mesh`` prints; meshes between the listed ones are interpolated."""
    if mesh in USABLE_MM:
        return USABLE_MM[mesh]
    known = sorted(USABLE_MM, key=lambda m: m.threads_per_cm)
    below = [m for m in known if m.threads_per_cm <= mesh.threads_per_cm]
    above = [m for m in known if m.threads_per_cm >= mesh.threads_per_cm]
    if not below or not above:
        edge = (below or above)[-1 if below else 0]
        factor = edge.threads_per_cm / mesh.threads_per_cm
        return USABLE_MM[edge][0] * factor, USABLE_MM[edge][1] * factor
    low, high = below[-1], above[0]
    span = high.threads_per_cm - low.threads_per_cm
    t = (mesh.threads_per_cm - low.threads_per_cm) / span if span else 0.0
    (l0, g0), (l1, g1) = USABLE_MM[low], USABLE_MM[high]
    return l0 + t * (l1 - l0), g0 + t * (g1 - g0)


def usable_as_measured(mesh: Mesh, measured: Mapping[str, float]) -> tuple[float, float]:
    """Return the thinnest line and gap in mm on ``mesh`` from a calibration print of the press, else by ``usable_mm``.

    ``measured`` has the keys of the press file. What was measured on one mesh scales what is usual on another; a
    reading that names no mesh counts for every mesh.
    """
    count, thread = measured.get("measured_threads_per_cm"), measured.get("measured_thread_um")
    on = mesh if count is None or thread is None else Mesh(count, thread)
    line, gap = (
        measured[key] * here / there if key in measured else here
        for key, here, there in zip(
            ("thinnest_line_mm", "thinnest_gap_mm"), usable_mm(mesh), usable_mm(on), strict=True
        )
    )
    return line, gap


def advise_halftone(mesh: Mesh, *, nth: int, shape: DotShape = "ellipse") -> Halftone:
    """Return ruling, angle and shape for the ``nth`` plate with tone (0, 1, ...) on ``mesh``.

    The ruling is the clean one nearest to the usual: one whose beat with the threads does not show.
    """
    most = threads_per_cm_to_tpi(mesh.threads_per_cm) * LPI_PER_TPI
    usual = min(DEFAULT_LPI, float(int(most)))
    angle = ANGLES_DEG[nth % len(ANGLES_DEG)]
    return Halftone(suggest(mesh, usual, angle, shape=shape), angle, shape)
