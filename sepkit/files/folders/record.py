"""separation.json: the one module that writes and reads the record of a print (schema "sepkit.separation/1").

In: a PrintRecord. Out: JSON values, and back: every field survives. A record and the planes beside it are enough to
draw the print, to decide it again and to make its films again, on another machine with another shelf: inks stand in it
with K and S, the cloth with its reflectance. Records without these, of an earlier sepkit, are read with inks known by
their printed colour, and cannot be decided again.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.decisions import OverprintColours, SavedInk
from sepkit.errors import UsageError, WriteError
from sepkit.files.folders import older
from sepkit.files.folders.bench import BenchFacts, InkPlaces, bench_json, bench_of
from sepkit.files.folders.entries import AreaEntry, PlateEntry, area_json, area_of, plate_json, plate_of
from sepkit.files.folders.parts import (
    JsonTable,
    discs_json,
    discs_of,
    finding_of,
    finding_record,
    garment_json,
    garment_of,
    ink_json,
    ink_of,
    making_json,
    making_of,
)
from sepkit.files.folders.planes import AGAIN
from sepkit.files.words import shown
from sepkit.units import MM_PER_INCH, parse_hex, to_hex

if TYPE_CHECKING:
    from sepkit.film.check_discs import CheckDisc
    from sepkit.film.making import FilmMaking
    from sepkit.model import RGB8, Finding, Garment

SCHEMA = "sepkit.separation/1"
MANIFEST = "separation.json"
_MOST_BYTES = 8_000_000
MOST_NAME = 250
"""Characters; no file system takes many more."""


@dataclass(frozen=True, slots=True)
class ArtFacts:
    """The art of a print: its file's name, its grid and its size."""

    file: str
    width_px: int
    height_px: int
    width_mm: float
    height_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """(h, w) of every plane."""
        return self.height_px, self.width_px

    @property
    def dpi(self) -> float:
        """Pixels per inch at print size."""
        return self.width_px * MM_PER_INCH / self.width_mm


@dataclass(frozen=True, slots=True)
class FilmFacts:
    """The films as they stand in the folder."""

    making: FilmMaking
    width_px: int
    height_px: int
    sheet: str = ""
    """The size of sheet that they were cut for; empty for a page as large as the film."""
    tiles: int = 0
    discs: tuple[CheckDisc, ...] = ()
    """Check discs beside the art."""


@dataclass(frozen=True, slots=True, eq=False)
class PrintRecord:
    """All that a record says of a print. Planes are told by their files."""

    artwork: ArtFacts
    garment: Garment
    plates: tuple[PlateEntry, ...]
    film: FilmFacts
    mean_de00: float
    p95_de00: float
    findings: tuple[Finding, ...] = ()
    areas: tuple[AreaEntry, ...] = ()
    """What the art asked, area by area."""
    ground: RGB8 | None = None
    """The garment's colour that the art was separated for."""
    blend_space: Literal["encoded", "linear"] = "encoded"
    order_why: str = ""
    parted: tuple[tuple[int, int, float], ...] = ()
    """Pairs of screens of different rounds that touch, and their distance in mm."""
    overprints: OverprintColours | None = None
    bench: BenchFacts | None = None
    """None in the record of an earlier sepkit."""
    more: Mapping[str, Any] = field(default_factory=dict)
    """Reports for people and programs: ways of each ink, stress, ladder; kept as they are."""


def record_json(record: PrintRecord) -> JsonTable:
    """Return the record as JSON values."""
    inks = InkPlaces()
    art, film = record.artwork, record.film
    plates = [plate_json(plate, inks.place_of) for plate in record.plates]
    bench = None if record.bench is None else bench_json(record.bench, inks)
    out: JsonTable = {
        "schema": SCHEMA,
        "artwork": {
            "file": art.file,
            "width_px": art.width_px,
            "height_px": art.height_px,
            "width_mm": art.width_mm,
            "height_mm": art.height_mm,
            "dpi": round(art.dpi, 3),
        },
        "garment": garment_json(record.garment),
        "plates": plates,
        "film": {"dpi": film.making.dpi, "width_px": film.width_px, "height_px": film.height_px}
        | making_json(film.making)
        | ({"sheet": film.sheet, "tiles": film.tiles} if film.sheet else {})
        | ({"check_discs": discs_json(film.discs)} if film.discs else {}),
        "difference": {"mean_de00": round(record.mean_de00, 3), "p95_de00": round(record.p95_de00, 3)},
        "findings": [finding_record(finding) for finding in record.findings],
        "blend_space": record.blend_space,
        "ground_srgb": None if record.ground is None else to_hex(record.ground),
        "order_why": record.order_why,
        "rounds": _rounds_json(record),
        "parted": [list(pair) for pair in record.parted],
        "areas": [area_json(area) for area in record.areas],
        **(bench or {}),
        **_overprints_json(record.overprints),
        **record.more,
    }
    return out | {"inks": [ink_json(ink) for ink in inks.known]}


def _rounds_json(record: PrintRecord) -> list[JsonTable]:
    numbers = sorted({plate.round for plate in record.plates})
    parted = [(record.plates[a].round, record.plates[b].round) for a, b, _ in record.parted]
    return [
        {
            "round": number,
            "screens": [plate.name for plate in record.plates if plate.round == number],
            "reload_after": not any(a <= number < b for a, b in parted),
        }
        for number in numbers
    ]


def _overprints_json(found: OverprintColours | None) -> JsonTable:
    if found is None:
        return {}
    return {
        "overprint_colours": {
            "screens_without": found.screens_without,
            "flashes_without": found.flashes_without,
            "colours": [
                {
                    "name": one.name,
                    "art_srgb": to_hex(one.art_srgb),
                    "print_srgb": to_hex(one.print_srgb),
                    "first": one.first,
                    "second": one.second,
                    "de00": round(one.de00, 2),
                }
                for one in found.colours
            ],
            "transparent": sorted({name for one in found.colours for name in (one.first, one.second)}),
        }
    }


def record_of(raw: Mapping[str, Any]) -> PrintRecord:
    """Return the record of ``record_json``'s values. Raises KeyError, TypeError, ValueError or UsageError."""
    art, film = raw["artwork"], raw["film"]
    inks = tuple(ink_of(entry) for entry in raw.get("inks", ()))
    garment, difference = raw["garment"], raw["difference"]
    lab = srgb8_to_lab(np.array(parse_hex(garment["srgb"]), np.uint8))
    lab_of = (float(lab[0]), float(lab[1]), float(lab[2]))
    if not raw["plates"]:
        raise ValueError("no plates")
    ground = raw.get("ground_srgb")
    return PrintRecord(
        ArtFacts(
            str(art["file"]),
            int(art["width_px"]),
            int(art["height_px"]),
            float(art["width_mm"]),
            float(art["height_mm"]),
        ),
        garment_of(garment, lab=lab_of) if "reflectance" in garment else older.garment_of(garment, lab=lab_of),
        tuple(plate_of(entry, inks) for entry in raw["plates"]),
        FilmFacts(
            making_of(film),
            int(film["width_px"]),
            int(film["height_px"]),
            str(film.get("sheet", "")),
            int(film.get("tiles", 0)),
            discs_of(film.get("check_discs"), of=len(raw["plates"])),
        ),
        float(difference["mean_de00"]),
        float(difference["p95_de00"]),
        tuple(finding_of(entry) for entry in raw.get("findings", ())),
        tuple(area_of(entry) for entry in raw.get("areas", ())),
        None if ground is None else parse_hex(ground),
        "linear" if raw.get("blend_space") == "linear" else "encoded",
        str(raw.get("order_why", "")),
        tuple((int(a), int(b), float(mm)) for a, b, mm in raw.get("parted", ())),
        _overprints_of(raw.get("overprint_colours")),
        bench_of(raw, inks) if "wishes" in raw else None,
        {key: value for key, value in raw.items() if key not in _OWN_KEYS},
    )


_OWN_KEYS = frozenset(
    (
        "schema",
        "artwork",
        "garment",
        "plates",
        "film",
        "difference",
        "findings",
        "blend_space",
        "ground_srgb",
        "order_why",
        "rounds",
        "parted",
        "areas",
        "press",
        "base_ink",
        "white_cloth",
        "wishes",
        "frames",
        "may_turn",
        "measured",
        "inks_found",
        "overprint_colours",
        "inks",
    )
)


def _overprints_of(entry: Mapping[str, Any] | None) -> OverprintColours | None:
    if entry is None:
        return None
    colours = tuple(
        SavedInk(
            str(one["name"]),
            parse_hex(one["art_srgb"]),
            str(one["first"]),
            str(one["second"]),
            parse_hex(one["print_srgb"]),
            float(one["de00"]),
        )
        for one in entry["colours"]
    )
    return OverprintColours(colours, int(entry["screens_without"]), int(entry["flashes_without"]))


def write_record(folder: Path, raw: Mapping[str, Any]) -> Path:
    """Write separation.json; lists of many numbers stand on one line each."""
    path = folder / MANIFEST
    text = json.dumps(raw, indent=1, ensure_ascii=False)
    path.write_text(_NUMBERS.sub(lambda found: " ".join(found[0].split()), text) + "\n", encoding="utf-8")
    return path


_NUMBERS = re.compile(r"\[(?:\s*-?[0-9.e+-]+,){8,}\s*-?[0-9.e+-]+\s*\]")


def read_record(folder: Path) -> PrintRecord:
    """Return the record of a print folder. Raises WriteError (exit 7) with what is wrong with it and where."""
    where = str(folder / MANIFEST)
    raw = _load(folder, where)
    try:
        return record_of(raw)
    except WriteError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, IndexError, UsageError) as error:
        raise damaged(error, where) from error


def damaged(error: Exception, where: str) -> WriteError:
    """Return the error of a record that does not hold what it should."""
    return WriteError(f"the record is damaged ({type(error).__name__}: {shown(error)})", where=where, hint=AGAIN)


def _load(folder: Path, where: str) -> JsonTable:
    path = folder / MANIFEST
    if not path.is_file():
        raise WriteError("not a print folder", where=str(folder), hint="give a folder that `sepkit separate` made")
    if path.stat().st_size > _MOST_BYTES:
        raise WriteError("the record is far too large", where=where, hint=AGAIN)
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise WriteError("the record is damaged", where=where, hint=AGAIN) from error
    schema = record.get("schema") if isinstance(record, dict) else None
    if schema != SCHEMA:
        raise WriteError(
            f"schema is {shown(repr(schema))}, this sepkit reads {SCHEMA!r}",
            where=where,
            hint=f"update sepkit, or {AGAIN}",
        )
    if not _plain_paths(record.get("plates")):
        raise WriteError("the record is damaged (a plate's file has no plain name)", where=where, hint=AGAIN)
    return dict(record)


def _plain_paths(plates: object) -> bool:
    """Tell whether what the record calls files could be such; other damage is told where it is met."""
    entries = [entry for entry in plates if isinstance(entry, dict)] if isinstance(plates, list) else []
    names = [entry.get(key) for entry in entries for key in ("plate", "printed", "tone", "base", "film", "name", "ink")]
    return all(len(name) <= MOST_NAME and name.isprintable() for name in names if isinstance(name, str))
