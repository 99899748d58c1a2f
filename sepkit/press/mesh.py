"""What a mesh does: opening, open area, ink volume, the smallest dot it holds, and which rulings suit it.

In: a Mesh (threads per cm, thread in µm). Out: µm, shares 0..1, cm3/m2, and findings.
Geometry of a plain weave with straight threads: opening = pitch - thread. A weaver publishes (opening µm, open area %,
thickness µm, cm3/m2) 90-40: 73, 42, 59, 25; 90-48: 65, 33, 72, 24; 90-54: 59, 27, 84, 23. Opening and thread make
113 µm in each row, so these are woven at 88.5 threads per cm: "90" is a name, rounded. At 88.5 the formulas give all
twelve figures within 3 %; at 90 the openings, as the small rest of a pitch, come out 3 % low and the volume up to 6 %.
A count that was measured is better than a name: 88.5-54 is read as well.
Thickness in threads rises with the share of thread in the pitch, as threads bend more: a line through those rows and
120-40 (63 µm), held to what they span. The smallest dot as opening + 2 threads, and the mesh count of 4 or more times
the ruling, are common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError
from sepkit.film.screen import grey_levels
from sepkit.film.tone import SmallTones, ToneLimits, tint_limits
from sepkit.model import Finding, is_periodic
from sepkit.units import threads_per_cm_to_tpi

if TYPE_CHECKING:
    from sepkit.model import Halftone, Mesh

THICKNESS_LINE = (1.2, 0.75)
THICKNESS_THREADS = (1.475, 1.575)
LEAST_LEVELS = 64
LEAST_RATIO = 4.0
WARN_TINT = 0.2


def pitch_um(mesh: Mesh) -> float:
    """Return the distance from thread to thread.

    >>> from sepkit.model import Mesh
    >>> round(pitch_um(Mesh(43, 80)), 1)
    232.6
    """
    return 10000.0 / mesh.threads_per_cm


def opening_um(mesh: Mesh) -> float:
    """Return the side of an opening. Raises NotFoundError for threads thicker than their pitch.

    >>> from sepkit.model import Mesh
    >>> round(opening_um(Mesh(43, 80)))
    153
    """
    opening = pitch_um(mesh) - mesh.thread_um
    if opening <= 0:
        raise NotFoundError(
            f"{mesh} leaves no opening",
            where="mesh",
            hint="43-80 means 43 threads per cm of 80 µm",
        )
    return opening


def open_area(mesh: Mesh) -> float:
    """Return the open share of the mesh, 0..1.

    >>> from sepkit.model import Mesh
    >>> round(open_area(Mesh(43, 80)), 2)
    0.43
    """
    return (opening_um(mesh) / pitch_um(mesh)) ** 2


def thickness_um(mesh: Mesh) -> float:
    """Return the thickness of the weave, 1.475 to 1.575 threads."""
    base, slope = THICKNESS_LINE
    least, most = THICKNESS_THREADS
    return mesh.thread_um * min(max(base + slope * mesh.thread_um / pitch_um(mesh), least), most)


def ink_volume_cm3_m2(mesh: Mesh) -> float:
    """Return the ink that fills the openings, cm3 per m2 (numerically µm of wet film).

    >>> from sepkit.model import Mesh
    >>> round(ink_volume_cm3_m2(Mesh(43, 80)))
    51
    """
    return open_area(mesh) * thickness_um(mesh)


def smallest_dot_um(mesh: Mesh) -> float:
    """Return the smallest dot, line or gap that does not get lost on a thread: an opening and two threads.

    >>> from sepkit.model import Mesh
    >>> round(smallest_dot_um(Mesh(43, 80)))
    313
    """
    return opening_um(mesh) + 2 * mesh.thread_um


def tone_limits(mesh: Mesh, *, small: SmallTones = "raise") -> ToneLimits:
    """Return the smallest dot and gap for films on ``mesh``."""
    dot = smallest_dot_um(mesh)
    return ToneLimits(dot, dot, small)


def halftone_findings(halftone: Halftone, mesh: Mesh, *, dpi: float, plate: str) -> list[Finding]:
    """Tell what the film, the mesh and the ruling do to tones."""
    if not is_periodic(halftone.shape):
        return []
    out = []
    levels = grey_levels(dpi, halftone.lpi)
    if levels < LEAST_LEVELS:
        out.append(
            Finding(
                "few-grey-levels",
                "warn",
                f"{plate}: fades show steps, {levels} tints at {dpi:g} dpi",
                f"use at most {dpi / (LEAST_LEVELS - 1) ** 0.5:.0f} lpi, or a higher film dpi",
            )
        )
    tpi = threads_per_cm_to_tpi(mesh.threads_per_cm)
    if tpi / halftone.lpi < LEAST_RATIO:
        out.append(
            Finding(
                "coarse-mesh",
                "warn",
                f"{plate}: small dots of {halftone.lpi:g} lpi fall through mesh {mesh}",
                f"use at most {tpi / LEAST_RATIO:.0f} lpi, or a finer mesh",
                more=f"{tpi / halftone.lpi:.1f} threads to a dot, {LEAST_RATIO:g} are wanted",
            )
        )
    least, most = tint_limits(tone_limits(mesh), halftone)
    if least > WARN_TINT:
        out.append(
            Finding(
                "narrow-tones",
                "info",
                f"{plate}: this mesh holds tints of {least * 100:.0f} to {most * 100:.0f} %",
                "a coarser ruling or a finer mesh holds more",
                more=f"at {halftone.lpi:g} lpi; lighter tints are raised, or print by fewer dots",
            )
        )
    return out
