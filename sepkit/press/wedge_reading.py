"""From what was measured on a calibration print to the press's own numbers.

In: a WedgeReading. Out: PressNumbers: edge growth (dot gain), thinnest line and gap, smallest type, register error, ink
factor, film scale; findings about readings that do not fit.
Dot gain is one number, the growth of an edge in µm: the border that turns the film's tints into the printed ones, least
squares over all steps and rulings, and over lines whose printed width was measured ("Managing Textile Dot Gain", Screen
Printing magazine, describes the constant border). The register error is the widest miss of all prints. The ink factor
is the median weighed ink over the computed ink.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.tone import MOST_EDGE_UM, DotGain, printed_tint
from sepkit.model import Finding, Halftone
from sepkit.press.quantities import grams_per_hit

if TYPE_CHECKING:
    from sepkit.model import F64, DotShape, Mesh

SCALE_TOLERANCE = 0.002
LEAST_PRINTS = 5
POOR_FIT = 0.06
"""A root mean square of this much tint is more than reading errors explain."""
TABLE_LPI = 45.0
TABLE_EDGES_UM = (0.0, 8.0, 16.0, 24.0, 32.0, 42.0, 54.0, 68.0, 86.0, 110.0, 150.0, 210.0, 300.0)
FACTOR_RANGE = (0.2, 5.0)


@dataclass(frozen=True, slots=True)
class WedgeReading:
    """What was measured. Tints 0..1; lengths mm; masses g."""

    tones: tuple[tuple[float, float, float], ...] = ()
    """(ruling in lpi, film tint, printed tint)."""
    widths: tuple[tuple[float, float], ...] = ()
    """(width on the film, width printed)."""
    thinnest_line_mm: float | None = None
    thinnest_gap_mm: float | None = None
    smallest_type_pt: float | None = None
    smallest_reversed_pt: float | None = None
    misses_mm: tuple[tuple[float, float], ...] = ()
    """(across, down) of each print."""
    weighed_g: tuple[float, ...] = ()
    """Ink on each garment, after minus before."""
    scale: tuple[tuple[float, float], ...] = ()
    """(bar on the film, bar as measured)."""
    shape: DotShape = "ellipse"
    angle_deg: float = 22.5
    mesh: Mesh | None = None
    density_g_ml: float | None = None
    inked_cm2: float | None = None
    coats: int = 1


@dataclass(frozen=True, slots=True)
class PressNumbers:
    """The press's own numbers; None where nothing was measured."""

    edge_growth_um: float | None = None
    fit_rms: float | None = None
    thinnest_line_mm: float | None = None
    thinnest_gap_mm: float | None = None
    smallest_type_pt: float | None = None
    smallest_reversed_pt: float | None = None
    register_error_mm: float | None = None
    ink_factor: float | None = None
    findings: tuple[Finding, ...] = field(default=())


def press_numbers(reading: WedgeReading) -> PressNumbers:
    """Return what a reading says about the press."""
    findings: list[Finding] = []
    edge, rms = edge_growth(reading)
    if rms is not None and rms > POOR_FIT:
        findings.append(
            Finding(
                "poor-fit",
                "warn",
                f"the tone steps lie {rms:.0%} off the fitted growth of {edge:.0f} µm",
                "read them again: the printed tint in percent, steps that filled in as 100",
            )
        )
    error = max((math.hypot(x, y) for x, y in reading.misses_mm), default=None)
    if error is not None and len(reading.misses_mm) < LEAST_PRINTS:
        findings.append(
            Finding(
                "few-prints",
                "info",
                f"register was read on {len(reading.misses_mm)} prints only",
                "the widest miss of ten prints says more",
            )
        )
    findings += [
        Finding(
            "film-scale",
            "warn",
            f"a film bar of {film:g} mm measures {seen:g} mm ({seen / film - 1:+.2%})",
            "print films at 100 %, never fitted to the page, all fed the same way",
        )
        for film, seen in reading.scale
        if abs(seen / film - 1) > SCALE_TOLERANCE
    ]
    factor, said = _ink_factor(reading)
    return PressNumbers(
        edge,
        rms,
        reading.thinnest_line_mm,
        reading.thinnest_gap_mm,
        reading.smallest_type_pt,
        reading.smallest_reversed_pt,
        None if error is None else round(error, 3),
        factor,
        (*findings, *said),
    )


def edge_growth(reading: WedgeReading) -> tuple[float | None, float | None]:
    """Return the growth of an edge in µm that explains tones and widths best, and the tones' root mean square error."""
    if not reading.tones and not reading.widths:
        return None, None
    from scipy.optimize import minimize_scalar

    def wrong(edge_um: float) -> float:
        return float(np.sum(np.square(_errors(reading, edge_um))))

    # The error has one valley; a coarse search first keeps the fine one inside it.
    steps = np.arange(0.0, MOST_EDGE_UM + 1, 5.0)
    coarse = float(min(steps, key=wrong))
    low, high = max(0.0, coarse - 5), min(MOST_EDGE_UM, coarse + 5)
    edge = round(float(minimize_scalar(wrong, bounds=(low, high), method="bounded", options={"xatol": 0.05}).x), 1)
    if not reading.tones:
        return edge, None
    tones = _errors(reading, edge)[: len(reading.tones)]
    return edge, float(np.sqrt(np.mean(np.square(tones))))


def _errors(reading: WedgeReading, edge_um: float) -> F64:
    tones = np.array(reading.tones, np.float64).reshape(-1, 3)
    edges, film, table = _growth_table(reading.shape)
    # A border counts in dot periods: a finer ruling is a larger growth at the table's ruling.
    at = np.interp(edge_um * tones[:, 0] / TABLE_LPI, edges, np.arange(len(edges)))
    low = np.minimum(at.astype(np.int64), len(edges) - 2)
    seen = np.array(
        [
            (1 - t) * np.interp(tint, film, table[k]) + t * np.interp(tint, film, table[k + 1])
            for k, t, tint in zip(low, at - low, tones[:, 1], strict=True)
        ]
    )
    # A width grows at both edges; 0.1 mm counts as much as a tint of 10 %.
    widths = [wide + 2 * edge_um / 1000 - printed for wide, printed in reading.widths]
    return np.concatenate([seen - tones[:, 2] if len(tones) else np.zeros(0), widths])


@lru_cache(maxsize=4)
def _growth_table(shape: DotShape) -> tuple[F64, F64, F64]:
    """Return growths (e,) in µm, film tints (n,) and printed tints (e, n) at TABLE_LPI: each curve takes a while."""
    edges, film = np.array(TABLE_EDGES_UM), np.linspace(0.0, 1.0, 101)
    halftone = Halftone(TABLE_LPI, 22.5, shape)
    return edges, film, np.stack([printed_tint(film, DotGain(float(edge)), halftone) for edge in edges])


def _ink_factor(reading: WedgeReading) -> tuple[float | None, list[Finding]]:
    if not reading.weighed_g:
        return None, []
    if reading.mesh is None or reading.density_g_ml is None or reading.inked_cm2 is None:
        return None, [
            Finding(
                "weight-without-mesh",
                "warn",
                "weights were given without mesh, ink or inked area",
                "add the lines mesh, ink and area: the film tells its area",
            )
        ]
    computed = reading.coats * grams_per_hit(reading.inked_cm2, reading.mesh, reading.density_g_ml)
    factor = round(median(reading.weighed_g) / computed, 3)
    if not FACTOR_RANGE[0] <= factor <= FACTOR_RANGE[1]:
        return None, [
            Finding(
                "odd-weight",
                "warn",
                f"the weights say {factor:g} times the computed ink, {computed:.2f} g a garment",
                "weigh again within minutes: cloth takes up moisture",
            )
        ]
    return factor, _scatter(reading.weighed_g)


def _scatter(weights: Sequence[float]) -> list[Finding]:
    middle = median(weights)
    far = max(abs(weight - middle) for weight in weights)
    if len(weights) < LEAST_PRINTS or far > 0.3 * middle:
        return [
            Finding(
                "rough-weight",
                "info",
                f"{len(weights)} garments weighed, up to {far:.2f} g from the middle",
                "five or more, dried first, on a scale of 0.01 g, say more",
            )
        ]
    return []
