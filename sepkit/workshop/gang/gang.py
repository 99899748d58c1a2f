"""Screens on disk: for each frame of a plan a drawing, and its film where the art of all its prints is known.

In: a GangPlan, the plates of its items, the film printer. Out: PNG and PDF files in a folder that the caller owns, and
a record for other programs (schema "sepkit.gang/1").
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.colorimetry.names import colours_called
from sepkit.files.folders.parts import finding_record
from sepkit.press.filming import film_settings
from sepkit.press.gang.plan import GangPlan
from sepkit.press.jobs import GangRules, PlacedItem, ScreenPlan
from sepkit.press.tape import TapeStep, tape_steps
from sepkit.preview.screen_drawing import DrawnPrint, DrawnScreen, DrawnStep, draw_screen
from sepkit.workshop.gang.screen_films import ScreenFilm, ScreenImage, screen_stem, write_screen_films

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.film.page import Mark
    from sepkit.jobs import Screen
    from sepkit.model import RGB8, U8, Plate, Progress
    from sepkit.press.sheet import Sheet

SCHEMA = "sepkit.gang/1"
RECORD = "gang.json"
UNKNOWN_INK: RGB8 = (96, 100, 108)
MOST_PICTURE_PX = 1200


@dataclass(frozen=True, slots=True, eq=False)
class ItemArt:
    """The plate of one item, its printed size, and how films of its print are made."""

    plate: Plate
    width_mm: float
    height_mm: float
    making: FilmMaking
    beside: tuple[Mark, ...] = ()
    """Marks beside the art, in mm from its top left."""


@dataclass(frozen=True, slots=True)
class ScreenOutput:
    """How screens are drawn and put on film. Inks that ``inks`` does not name are drawn grey."""

    rules: GangRules
    inks: Mapping[str, RGB8]
    sheet: Sheet | None = None
    dpi: float = 720.0
    title: str = ""
    order: tuple[str, ...] = ()
    """Names of items in the order in which they print, where it is known."""


@dataclass(frozen=True, slots=True)
class WrittenScreen:
    """One screen as written."""

    plan: ScreenPlan
    steps: tuple[TapeStep, ...]
    drawing: Path
    film: ScreenFilm | None
    """None where the art of some print is not known."""


def write_screens(
    folder: Path,
    plans: Sequence[ScreenPlan],
    art: Mapping[str, ItemArt],
    output: ScreenOutput,
    *,
    progress: Progress | None = None,
) -> list[WrittenScreen]:
    """Write NAME.png for each screen below ``folder``, and NAME.pdf where ``art`` has all its items.

    Raises UsageError for a sheet smaller than its margins, WriteError when the disk refuses.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written: list[WrittenScreen] = []
    for done, plan in enumerate(plans):
        if progress is not None:
            progress.step("screens", done, len(plans))
        steps = tape_steps(plan, order=output.order)
        drawing = folder / f"{screen_stem(plan)}.png"
        _save(drawing, draw_screen(drawn_screen(plan, steps, art, output)))
        film = None
        if all(placed.item.name in art for placed in plan.placed):
            images = {p.item.name: _image(art[p.item.name], output) for p in plan.placed}
            (film,) = write_screen_films(folder, [plan], images, sheet=output.sheet, title=output.title)
        written.append(WrittenScreen(plan, steps, drawing, film))
    return written


def drawn_screen(
    plan: ScreenPlan, steps: Sequence[TapeStep], art: Mapping[str, ItemArt], output: ScreenOutput
) -> DrawnScreen:
    """Return what the drawing of a screen shows."""
    family = f"{colours_called(plan.ink_family)}, " if plan.ink_family else ""
    frame = plan.screen
    size = f"frame {frame_words(frame)}"
    about = (output.title, size, "seen from the squeegee side")
    return DrawnScreen(
        title=f"Screen {plan.number}: {family}mesh {plan.mesh}",
        subtitle=" · ".join(part for part in about if part),
        width_mm=frame.inside_width_mm,
        height_mm=frame.inside_height_mm,
        edge_mm=output.rules.edge_mm,
        ends_mm=output.rules.ends_mm,
        prints=tuple(_drawn(placed, art.get(placed.item.name), output) for placed in plan.placed),
        steps=tuple(DrawnStep(s.open.item.name, s.taped, s.end, s.words) for s in steps),
    )


def frame_words(frame: Screen) -> str:
    """Return a frame's name and inside size; the size alone where the name says no more."""
    size = f"{frame.inside_width_mm:g} x {frame.inside_height_mm:g} mm inside"
    plain = f"{frame.inside_width_mm:g}x{frame.inside_height_mm:g}"
    return size if frame.name.replace(" ", "").removesuffix("mm") == plain else f"{frame.name}, {size}"


def gang_record(plan: GangPlan, written: Sequence[WrittenScreen] = ()) -> dict[str, Any]:
    """Return the plan for other programs; lengths in mm, file names without their folder."""
    files = {one.plan.number: one for one in written}
    return {
        "schema": SCHEMA,
        "screens_one_each": len(plan.screens) + plan.saved,
        "proven": plan.proven,
        "search_nodes": plan.nodes,
        "screens": [_screen_record(screen, files.get(screen.number)) for screen in plan.screens],
        "left_out": [item.name for item in plan.left_out],
        "findings": [finding_record(finding) for finding in plan.findings],
    }


def _screen_record(screen: ScreenPlan, written: WrittenScreen | None) -> dict[str, Any]:
    record: dict[str, Any] = {
        "number": screen.number,
        "frame": screen.screen.name,
        "inside_mm": [screen.screen.inside_width_mm, screen.screen.inside_height_mm],
        "mesh": str(screen.mesh),
        "ink_family": screen.ink_family,
        "least_screens": screen.least_screens,
        "proven": screen.exact,
        "prints": [
            {
                "name": p.item.name,
                "x_mm": p.x_mm,
                "y_mm": p.y_mm,
                "width_mm": p.width_mm,
                "height_mm": p.height_mm,
                "rotation_deg": p.rotation,
                "end_at_clamp": p.end,
                "blade_mm": round(p.blade_mm, 2),
                "shift_mm": p.shift_mm,
            }
            for p in screen.placed
        ],
        "steps": [
            {
                "open": s.open.item.name,
                "taped": list(s.taped),
                "both_faces": list(s.both_faces),
                "turn": s.turn,
                "end_at_clamp": s.end,
                "words": list(s.words),
            }
            for s in (written.steps if written else tape_steps(screen))
        ],
    }
    if written is not None:
        record["drawing"] = written.drawing.name
        if written.film is not None:
            record["film"] = {"file": written.film.path.name, "tiles": written.film.tiles}
    return record


def _image(one: ItemArt, output: ScreenOutput) -> ScreenImage:
    plate = one.plate
    making = replace(one.making, dpi=output.dpi, mirror=False)
    settings = film_settings(making, plate.mesh, plate.halftone)
    return ScreenImage(plate.printed, plate.tone, plate.halftone, one.width_mm, one.height_mm, settings, one.beside)


def _drawn(placed: PlacedItem, art: ItemArt | None, output: ScreenOutput) -> DrawnPrint:
    note = f"blade {placed.blade_mm:.0f} mm" if placed.blade_mm else "no blade fits"
    if abs(placed.shift_mm) > 0.05:
        note += f", {abs(placed.shift_mm):.0f} mm {'right' if placed.shift_mm > 0 else 'left'}"
    return DrawnPrint(
        placed.item.name,
        placed.x_mm,
        placed.y_mm,
        placed.width_mm,
        placed.height_mm,
        placed.rotation,
        placed.end,
        output.inks.get(placed.item.ink, UNKNOWN_INK),
        note,
        None if art is None else _small(art.plate.printed),
    )


def _small(coverage: U8) -> U8:
    """Return a picture of a plate: every n-th pixel is enough for a drawing that is itself reduced."""
    step = max(1, max(coverage.shape) // MOST_PICTURE_PX)
    return coverage[::step, ::step]


def _save(path: Path, picture: U8) -> None:
    from PIL import Image

    Image.fromarray(picture).save(path, format="PNG", compress_level=4)
