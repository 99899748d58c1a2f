"""The print folder: plates as PNG, and separation.json, which other programs read (schema "sepkit.separation/1").

In: a Separation. Out: files in a folder that the caller moves into place whole. And back: `read_print_folder`.
plates/ hold what the art asks of each ink; plates/printed/ what is printed, after trap and choke; plates/tone/ where
an ink is a tone. All on the art's own pixel grid, 8-bit grey, 0 = no ink, 255 = solid.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import WriteError
from sepkit.files.words import shown
from sepkit.model import DOT_SHAPES, DotShape, Finding, Halftone, Mesh, Plate, Role, Separation
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import RGB8, U8, Bool

SCHEMA = "sepkit.separation/1"
MANIFEST = "separation.json"
_MOST_BYTES = 8_000_000
MOST_NAME = 250
"""Characters; no file system takes many more."""


@dataclass(frozen=True, slots=True, eq=False)
class PrintFolder:
    """A print folder as read back: the plates, the size, the garment, and the raw record."""

    folder: Path
    plates: tuple[Plate, ...]
    width_mm: float
    height_mm: float
    garment_name: str
    garment_srgb: RGB8
    title: str
    record: dict[str, Any]


def plate_slug(plate: Plate) -> str:
    """Return the file stem of a plate: ``01-underbase``."""
    word = "".join(c if c.isalnum() else "-" for c in plate.name.lower()).strip("-")
    while "--" in word:
        word = word.replace("--", "-")
    return f"{plate.order:02d}-{word or 'ink'}"


def write_plates(folder: Path, plates: Sequence[Plate], *, dpi: float) -> list[Path]:
    """Write plates/, plates/printed/ and plates/tone/ under ``folder``; return the paths of the first."""
    written = []
    for plate in plates:
        name = plate_slug(plate) + ".png"
        written.append(_save_grey(folder / "plates" / name, plate.coverage, dpi))
        _save_grey(folder / "plates" / "printed" / name, plate.printed, dpi)
        if plate.tone is not None:
            _save_grey(folder / "plates" / "tone" / name, np.where(plate.tone, np.uint8(255), np.uint8(0)), dpi)
    return written


def separation_record(
    separation: Separation, *, film_dpi: float, film_px: tuple[int, int], extra: dict[str, Any] | None = None
) -> dict[str, Any]:
    """Return separation.json as a dictionary; ``extra`` adds keys."""
    art, garment = separation.artwork, separation.garment
    height_px, width_px = art.rgb.shape[:2]
    return {
        "schema": SCHEMA,
        "artwork": {
            "file": art.source,
            "width_px": width_px,
            "height_px": height_px,
            "width_mm": round(art.width_mm, 4),
            "height_mm": round(art.height_mm, 4),
            "dpi": round(art.dpi, 3),
        },
        "garment": {
            "name": garment.name,
            "srgb": to_hex(garment.srgb),
            "lab": [round(v, 2) for v in garment.lab],
            "shape": garment.shape,
            "weight_g_m2": garment.weight_g_m2,
        },
        "plates": [_plate_record(plate) for plate in separation.plates],
        "film": {"dpi": film_dpi, "width_px": film_px[0], "height_px": film_px[1]},
        "difference": {"mean_de00": round(separation.mean_de00, 3), "p95_de00": round(separation.p95_de00, 3)},
        "findings": [finding_record(finding) for finding in separation.findings],
        **(extra or {}),
    }


def finding_record(finding: Finding) -> dict[str, Any]:
    """Return a finding as in separation.json."""
    record: dict[str, Any] = {
        "code": finding.code,
        "level": finding.word,
        "text": finding.text,
        "hint": finding.hint,
    }
    if finding.place_mm is not None:
        record["place_mm"] = [round(v, 2) for v in finding.place_mm]
    return record


def write_record(folder: Path, record: dict[str, Any]) -> Path:
    """Write separation.json."""
    path = folder / MANIFEST
    path.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return path


def read_print_folder(folder: Path) -> PrintFolder:
    """Read a print folder back. Raises WriteError (exit 7) with what is wrong with it and where."""
    where = str(folder / MANIFEST)
    record = _load_record(folder, where)
    try:
        art = record["artwork"]
        plates = tuple(_read_plate(folder, entry, (art["height_px"], art["width_px"])) for entry in record["plates"])
        return PrintFolder(
            folder,
            plates,
            float(art["width_mm"]),
            float(art["height_mm"]),
            str(record["garment"]["name"]),
            parse_hex(record["garment"]["srgb"]),
            Path(str(art["file"])).stem,
            record,
        )
    except WriteError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise WriteError(
            f"the record is damaged ({type(error).__name__}: {shown(error)})", where=where, hint=_AGAIN
        ) from error


_AGAIN = "make the folder again with `sepkit separate`"


def _load_record(folder: Path, where: str) -> dict[str, Any]:
    path = folder / MANIFEST
    if not path.is_file():
        raise WriteError("not a print folder", where=str(folder), hint="give a folder that `sepkit separate` made")
    if path.stat().st_size > _MOST_BYTES:
        raise WriteError("the record is far too large", where=where, hint=_AGAIN)
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise WriteError("the record is damaged", where=where, hint=_AGAIN) from error
    schema = record.get("schema") if isinstance(record, dict) else None
    if schema != SCHEMA:
        raise WriteError(
            f"schema is {shown(repr(schema))}, this sepkit reads {SCHEMA!r}",
            where=where,
            hint=f"update sepkit, or {_AGAIN}",
        )
    if not _plain_paths(record.get("plates")):
        raise WriteError("the record is damaged (a plate's file has no plain name)", where=where, hint=_AGAIN)
    return dict(record)


def _plain_paths(plates: object) -> bool:
    """Tell whether what the record calls files could be such; other damage is told where it is met."""
    entries = [entry for entry in plates if isinstance(entry, dict)] if isinstance(plates, list) else []
    names = [entry.get(key) for entry in entries for key in ("plate", "printed", "tone", "film", "name", "ink")]
    return all(len(name) <= MOST_NAME and name.isprintable() for name in names if isinstance(name, str))


def _plate_record(plate: Plate) -> dict[str, Any]:
    name = plate_slug(plate)
    halftone = plate.halftone
    return {
        "order": plate.order,
        "name": plate.name,
        "role": plate.role,
        "ink": plate.ink,
        "art_srgb": None if plate.art_srgb is None else to_hex(plate.art_srgb),
        "print_srgb": to_hex(plate.print_srgb),
        "plate": f"plates/{name}.png",
        "printed": f"plates/printed/{name}.png",
        "tone": None if plate.tone is None else f"plates/tone/{name}.png",
        "film": f"films/{name}.pdf",
        "coverage_pct": round(float(plate.printed.mean()) / 2.55, 3),
        "coats": plate.coats,
        "flash_after": plate.flash_after,
        "halftone": None
        if halftone is None
        else {"lpi": halftone.lpi, "angle_deg": halftone.angle_deg, "shape": halftone.shape},
        "mesh": {"threads_per_cm": plate.mesh.threads_per_cm, "thread_um": plate.mesh.thread_um},
        "trap_mm": plate.trap_mm,
        "choke_mm": plate.choke_mm,
        "why": plate.why,
        "confidence": round(plate.confidence, 4),
    }


def _read_plate(folder: Path, entry: dict[str, Any], shape: tuple[int, int]) -> Plate:
    coverage = _load_grey(folder, entry["plate"], shape)
    printed = _load_grey(folder, entry.get("printed", entry["plate"]), shape)
    tone: Bool | None = None
    if entry.get("tone"):
        tone = _load_grey(folder, entry["tone"], shape) > 127
    halftone = entry.get("halftone")
    role: Role = entry["role"] if entry["role"] in ("underbase", "colour", "highlight") else "colour"
    return Plate(
        order=int(entry["order"]),
        name=str(entry["name"]),
        role=role,
        ink=str(entry["ink"]),
        art_srgb=parse_hex(entry["art_srgb"]) if entry.get("art_srgb") else None,
        print_srgb=parse_hex(entry["print_srgb"]),
        coverage=coverage,
        printed=printed,
        tone=tone,
        coats=int(entry["coats"]),
        flash_after=bool(entry["flash_after"]),
        halftone=None if not halftone else _read_halftone(halftone),
        mesh=Mesh(float(entry["mesh"]["threads_per_cm"]), float(entry["mesh"]["thread_um"])),
        trap_mm=float(entry.get("trap_mm", 0)),
        choke_mm=float(entry.get("choke_mm", 0)),
        why=str(entry.get("why", "")),
        confidence=float(entry.get("confidence", 1)),
    )


def _read_halftone(entry: dict[str, Any]) -> Halftone:
    shapes: dict[str, DotShape] = {shape: shape for shape in DOT_SHAPES}
    return Halftone(float(entry["lpi"]), float(entry["angle_deg"]), shapes[entry["shape"]])


def _save_grey(path: Path, plane: U8, dpi: float) -> Path:
    from PIL import Image

    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(np.ascontiguousarray(plane)).save(path, dpi=(dpi, dpi), compress_level=1)
    return path


def _load_grey(folder: Path, name: str, shape: tuple[int, int]) -> U8:
    from PIL import Image

    path = (folder / name).resolve()
    if folder.resolve() not in path.parents:
        raise WriteError("a plate lies outside the folder", where=str(name), hint=_AGAIN)
    try:
        with Image.open(path) as image:
            if image.size != (shape[1], shape[0]) or image.mode != "L":
                raise WriteError(
                    f"the plate is {image.size} {image.mode}, the record says {(shape[1], shape[0])} grey",
                    where=str(path),
                    hint=_AGAIN,
                )
            return np.array(image, np.uint8)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise WriteError("a plate cannot be read", where=str(path), hint=_AGAIN) from error


def read_record(folder: Path) -> dict[str, Any]:
    """Return separation.json alone, checked for its schema. Raises WriteError as read_print_folder does."""
    return _load_record(folder, str(folder / MANIFEST))
