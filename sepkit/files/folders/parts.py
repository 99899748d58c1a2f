"""The small types of a print folder's record as JSON values, and back: inks, cloth, press, frames, dots, findings.

Each pair ``x_json`` and ``x_of`` is a round trip: all fields survive, numbers exactly. What ``x_of`` cannot take raises
KeyError, TypeError, ValueError or UsageError; the record's reader makes one line of it.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.film.check_discs import CheckDisc
from sepkit.film.making import FilmMaking
from sepkit.film.tone import NO_GAIN, SMALL_TONES, DotGain
from sepkit.jobs import Screen
from sepkit.model import (
    BANDS_NM,
    DOT_SHAPES,
    GARMENT_SHAPES,
    Finding,
    Garment,
    Halftone,
    Ink,
    Level,
    Mesh,
    MixPart,
    Press,
)
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sepkit.model import F64

JsonTable = dict[str, Any]


def ink_json(ink: Ink) -> JsonTable:
    """Return an ink with its K and S."""
    return {
        "name": ink.name,
        "srgb": to_hex(ink.srgb),
        "kind": ink.kind,
        "status": ink.status,
        "density_g_ml": ink.density_g_ml,
        "source": ink.source,
        "date": ink.date,
        "absorption": ink.absorption.tolist(),
        "scattering": ink.scattering.tolist(),
        **({"parts": [asdict(part) for part in ink.parts]} if ink.parts else {}),
    }


def ink_of(entry: Mapping[str, Any]) -> Ink:
    """Return the ink of ``ink_json``."""
    return Ink(
        name=str(entry["name"]),
        absorption=spectrum(entry["absorption"]),
        scattering=spectrum(entry["scattering"]),
        density_g_ml=float(entry["density_g_ml"]),
        kind=str(entry["kind"]),
        status="measured" if entry["status"] == "measured" else "estimated",
        srgb=parse_hex(entry["srgb"]),
        source=str(entry["source"]),
        date=str(entry["date"]),
        parts=tuple(MixPart(str(part["ink"]), float(part["mass_share"])) for part in entry.get("parts", ())),
    )


def spectrum(values: Any) -> F64:
    """Return (31,) float64 of a list of numbers that are no less than 0."""
    out = np.array([float(value) for value in values], np.float64)
    if out.shape != (len(BANDS_NM),) or not np.isfinite(out).all() or (out < 0).any():
        raise ValueError(f"a spectrum is {len(BANDS_NM)} numbers of 0 or more")
    return out


def garment_json(garment: Garment) -> JsonTable:
    """Return a garment with its cloth's reflectance."""
    return {
        "name": garment.name,
        "srgb": to_hex(garment.srgb),
        "lab": [round(v, 2) for v in garment.lab],
        "shape": garment.shape,
        "weight_g_m2": garment.weight_g_m2,
        "cotton_share": garment.cotton_share,
        "polyester_share": garment.polyester_share,
        "status": garment.status,
        "fleece": garment.fleece,
        "hood": garment.hood,
        "half_chest_mm": dict(garment.half_chest_mm),
        "body_length_mm": dict(garment.body_length_mm),
        "reflectance": garment.reflectance.tolist(),
    }


def garment_of(entry: Mapping[str, Any], *, lab: tuple[float, float, float]) -> Garment:
    """Return the garment of ``garment_json``; ``lab`` is that of its colour, which the record holds rounded."""
    shapes = {shape: shape for shape in GARMENT_SHAPES}
    return Garment(
        name=str(entry["name"]),
        shape=shapes[entry["shape"]],
        srgb=parse_hex(entry["srgb"]),
        lab=lab,
        reflectance=spectrum(entry["reflectance"]),
        weight_g_m2=float(entry["weight_g_m2"]),
        cotton_share=float(entry["cotton_share"]),
        polyester_share=float(entry["polyester_share"]),
        status="measured" if entry["status"] == "measured" else "estimated",
        half_chest_mm=numbers_of(entry["half_chest_mm"]),
        body_length_mm=numbers_of(entry["body_length_mm"]),
        fleece=bool(entry["fleece"]),
        hood=bool(entry["hood"]),
    )


def numbers_of(table: Mapping[str, Any]) -> dict[str, float]:
    """Return a table of numbers by word."""
    return {str(key): float(value) for key, value in table.items()}


def press_json(press: Press) -> JsonTable:
    """Return a press."""
    return asdict(press)


def press_of(entry: Mapping[str, Any]) -> Press:
    """Return the press of ``press_json``; an older record says no platen, and has one of no size."""
    return Press(
        name=str(entry["name"]),
        heads=int(entry["heads"]),
        platens=int(entry.get("platens", 1)),
        platen_width_mm=float(entry.get("platen_width_mm", 0)),
        platen_height_mm=float(entry.get("platen_height_mm", 0)),
        register_error_mm=float(entry["register_error_mm"]),
        platens_come_off=bool(entry.get("platens_come_off", False)),
        refit_mm=float(entry.get("refit_mm", 0.3)),
        jig_mm=float(entry.get("jig_mm", 1.0)),
    )


def mesh_json(mesh: Mesh | None) -> JsonTable | None:
    """Return a mesh by count and thread."""
    return None if mesh is None else {"threads_per_cm": mesh.threads_per_cm, "thread_um": mesh.thread_um}


def mesh_of(entry: Mapping[str, Any]) -> Mesh:
    """Return the mesh of ``mesh_json``."""
    return Mesh(float(entry["threads_per_cm"]), float(entry["thread_um"]))


def frame_json(frame: Screen) -> JsonTable:
    """Return a frame that is owned."""
    return asdict(frame)


def frame_of(entry: Mapping[str, Any]) -> Screen:
    """Return the frame of ``frame_json``."""
    return Screen(
        str(entry["name"]),
        float(entry["inside_width_mm"]),
        float(entry["inside_height_mm"]),
        mesh_of(entry["mesh"]),
        int(entry["count"]),
    )


def halftone_json(halftone: Halftone | None) -> JsonTable | None:
    """Return ruling, angle and shape."""
    if halftone is None:
        return None
    return {"lpi": halftone.lpi, "angle_deg": halftone.angle_deg, "shape": halftone.shape}


def halftone_of(entry: Mapping[str, Any] | None) -> Halftone | None:
    """Return the halftone of ``halftone_json``."""
    if not entry:
        return None
    shapes = {shape: shape for shape in DOT_SHAPES}
    return Halftone(float(entry["lpi"]), float(entry["angle_deg"]), shapes[entry["shape"]])


def making_json(making: FilmMaking) -> JsonTable:
    """Return how films are made, the resolution first."""
    out: JsonTable = {
        "dpi": making.dpi,
        "mirror": making.mirror,
        "small_tones": making.small,
        "density": "rich" if making.all_colours else "black",
    }
    if making.gain != NO_GAIN:
        points = [list(point) for point in making.gain.points]
        out["dot_gain"] = {"edge_um": making.gain.edge_um, "points": points}
    return out


def making_of(entry: Mapping[str, Any]) -> FilmMaking:
    """Return the making of ``making_json``."""
    gain = NO_GAIN
    if kept := entry.get("dot_gain"):
        gain = DotGain(float(kept["edge_um"]), tuple((float(f), float(p)) for f, p in kept["points"]))
    return FilmMaking(
        float(entry["dpi"]),
        gain,
        next((word for word in SMALL_TONES if word == entry.get("small_tones")), "raise"),
        bool(entry.get("mirror", False)),
        entry.get("density") == "rich",
    )


def discs_json(discs: Sequence[CheckDisc]) -> list[JsonTable]:
    """Return check discs."""
    return [asdict(disc) for disc in discs]


def discs_of(entries: Sequence[Mapping[str, Any]] | None, *, of: int) -> tuple[CheckDisc, ...]:
    """Return the discs of ``discs_json`` for ``of`` plates. Raises ValueError for a plate that there is not."""
    discs = tuple(
        CheckDisc(
            int(one["plate"]),
            float(one["x_mm"]),
            float(one["y_mm"]),
            *(None if one.get(key) is None else int(one[key]) for key in ("on", "framed")),
        )
        for one in entries or ()
    )
    if not {k for disc in discs for k in (disc.plate, disc.on, disc.framed)} <= {*range(of), None}:
        raise ValueError("a check disc of no screen")
    return discs


def finding_record(finding: Finding) -> JsonTable:
    """Return a finding as programs read it."""
    record: JsonTable = {"code": finding.code, "level": finding.word, "text": finding.text, "hint": finding.hint}
    if finding.more:
        record["more"] = finding.more
    if finding.place_mm is not None:
        record["place_mm"] = [round(v, 2) for v in finding.place_mm]
    return record


def finding_of(entry: Mapping[str, Any]) -> Finding:
    """Return the finding of ``finding_record``; its place is kept to a hundredth of a millimetre."""
    levels: dict[str, Level] = {"warning": "warn", "error": "error"}
    level = levels.get(str(entry.get("level")), "info")
    place = entry.get("place_mm")
    where = None if place is None else (float(place[0]), float(place[1]))
    code, text, hint, more = (str(entry.get(key, "")) for key in ("code", "text", "hint", "more"))
    return Finding(code, level, text, hint, where, more)
