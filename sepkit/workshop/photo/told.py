"""The outputs of an inspection: pictures, the list, the record (schema "sepkit.inspection/1") and the page.

In: an Inspection. Out: files in a folder that the caller moves into place whole.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import numpy as np

from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.files.folders.parts import finding_record
from sepkit.files.folders.planes import file_word
from sepkit.preview.inspected import KINDS, Ring, film_picture, ringed
from sepkit.reading.spots import SpotKind
from sepkit.reading.subject import PX_PER_MM, Patch
from sepkit.reading.tiles import lit

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.workshop.photo.inspect import Inspection

SCHEMA = "sepkit.inspection/1"
MOST_PX = 1500


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture of an inspection: its file's name, its PNG, what it shows."""

    name: str
    png: bytes
    caption: str


def inspection_json(found: Inspection) -> dict[str, Any]:
    """Return an inspection for programs; what could not be told is null."""
    return {
        "schema": SCHEMA,
        "folder": str(found.kept.folder),
        "photos": [str(one.path) for one in found.photos],
        "px_per_mm": round(found.px_per_mm, 2),
        "shown_on": "simulated photographs only",
        "screens": [
            {
                "name": one.name,
                "reference": one.reference,
                "at_mm": None if one.at_mm is None else [round(value, 1) for value in one.at_mm],
                "dx_mm": _rounded(one.dx_mm),
                "dy_mm": _rounded(one.dy_mm),
                "turn_deg": _rounded(one.turn_deg),
                "band_mm": _rounded(one.band_mm),
                "turn_band_deg": _rounded(one.turn_band_deg),
                "growth_mm": _rounded(one.growth_mm),
                "growth_band_mm": _rounded(one.growth_band_mm),
                "thinnest_line_mm": found.photos[0].lines.thinnest_mm[k],
                "why": one.why,
            }
            for k, one in enumerate(found.screens)
        ],
        "spots": [
            {
                "number": number,
                "kind": spot.kind,
                "screen": found.screens[spot.screen].name,
                "at_mm": [round(spot.x_mm, 2), round(spot.y_mm, 2)],
                "size_mm": round(spot.size_mm, 2),
                "sure": spot.sure,
            }
            for number, spot in enumerate(found.spots, 1)
        ],
        "lost_lines": [
            {
                "screen": found.screens[lost.screen].name,
                "at_mm": [round(lost.x_mm, 2), round(lost.y_mm, 2)],
                "area_mm2": round(lost.area_mm2, 2),
            }
            for lost in found.photos[0].lines.lost
        ],
        "bare_base_mm2": _rounded(found.bare_base_mm2),
        "colours": [
            {"screen": one.screen, "de00": round(one.de00, 1), "band": round(one.band, 1), "against": one.against}
            for one in found.colours
        ],
        "findings": [finding_record(finding) for finding in found.findings],
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def spots_csv(found: Inspection) -> str:
    """Return the list of spots, places in mm on the film."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["number", "screen", "kind", "right_mm", "down_mm", "size_mm", "sure"])
    for number, spot in enumerate(found.spots, 1):
        name = found.screens[spot.screen].name
        at = (f"{spot.x_mm:.1f}", f"{spot.y_mm:.1f}", f"{spot.size_mm:.1f}")
        rows.writerow([number, name, spot.kind, *at, "yes" if spot.sure else "no"])
    return out.getvalue()


def pictures(found: Inspection) -> list[Drawn]:
    """Return the photograph laid straight and marked, and one marked film for each screen."""
    return [_marked(found), *(_film(found, k) for k in range(len(found.screens)))]


def _marked(found: Inspection) -> Drawn:
    subject, first = found.subject, found.photos[0]
    r = min(6.0, MOST_PX / (max(subject.width_mm, subject.height_mm) + 2 * subject.margin_mm))
    rings = [
        Ring(number, spot.kind, *spot.cloth_mm, spot.size_mm, spot.sure) for number, spot in enumerate(found.spots, 1)
    ]
    legend = ", ".join(KINDS[kind].words for kind in get_args(SpotKind))
    head = f"{legend}; {len(rings)} spots; places are listed in mm on the films"
    picture = ringed(_straight(found, r), rings, px_per_mm=r, margin_mm=subject.margin_mm, head=head)
    return Drawn("marked.png", _png(picture), f"{first.path.name}, laid straight; thin rings are not sure")


def _straight(found: Inspection, r: float) -> U8:
    """Return the photograph on the films' grid, its light divided out, band by band."""
    subject, first = found.subject, found.photos[0]
    grid = subject.whole(r)
    out = np.zeros((grid.height, grid.width, 3), np.uint8)
    bright = float(np.nanmax(first.fit.state.look.colours))
    for start in range(0, grid.height, 200):
        rows = min(200, grid.height - start)
        part = Patch(grid.x_mm, grid.y_mm + start / r, grid.width, rows, r)
        light = lit(first.photo, first.fit.state.warp, first.fit.state.look, subject, part) * np.float32(0.85 / bright)
        out[start : start + rows] = np.rint(linear_to_srgb(np.clip(np.nan_to_num(light), 0, 1)) * 255)
    return out


def _film(found: Inspection, k: int) -> Drawn:
    subject = found.subject
    picture, scale = film_picture(subject.planes[k], most_px=MOST_PX)
    rings = [
        Ring(number, spot.kind, spot.x_mm, spot.y_mm, spot.size_mm, spot.sure)
        for number, spot in enumerate(found.spots, 1)
        if spot.screen == k
    ]
    rings += [
        Ring(n, "line", lost.x_mm, lost.y_mm, float(np.sqrt(lost.area_mm2)))
        for n, lost in enumerate((line for line in found.photos[0].lines.lost if line.screen == k), 1)
    ]
    name = found.screens[k].name
    legend = [told.words for kind, told in KINDS.items() if any(ring.kind == kind for ring in rings)]
    head = f"screen {k + 1}, {name}, from the squeegee side; {', '.join(legend) or 'nothing to mend found'}"
    marked = ringed(picture, rings, px_per_mm=PX_PER_MM * scale, margin_mm=subject.margin_mm, head=head)
    return Drawn(f"film-{k + 1:02d}-{file_word(name) or 'ink'}.png", _png(marked), f"{name}: {found.screens[k].move()}")


def _png(picture: U8) -> bytes:
    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(picture).save(data, format="PNG", compress_level=4)
    return data.getvalue()


def write_inspection(target: Path, found: Inspection, *, force: bool) -> list[Path]:
    """Write the folder of an inspection; return its files, the page first. Raises WriteError."""
    import json

    from sepkit.files.folders.write import new_folder
    from sepkit.sheets.html import html_page
    from sepkit.sheets.inspection_sheet import inspection_sheet

    drawn = pictures(found)
    sheet = inspection_sheet(
        title=found.kept.title,
        photos=tuple(one.path.name for one in found.photos),
        screens=found.screens,
        spots=found.spots,
        findings=found.findings,
        colours=tuple((one.screen, one.de00, one.band, one.against) for one in found.colours),
        pictures=tuple((one.png, one.caption) for one in drawn),
    )
    with new_folder(target, force=force) as folder:
        for one in drawn:
            (folder / one.name).write_bytes(one.png)
        (folder / "spots.csv").write_text(spots_csv(found), encoding="utf-8")
        record = json.dumps(inspection_json(found), indent=1, ensure_ascii=False)
        (folder / "inspection.json").write_text(record + "\n", encoding="utf-8")
        (folder / "inspection.html").write_text(html_page(sheet), encoding="utf-8")
    return [target / "inspection.html", target / "spots.csv", *(target / one.name for one in drawn)]
