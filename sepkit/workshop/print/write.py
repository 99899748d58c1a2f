"""Make print folders: plan each print, write everything into a new folder, and move it into place whole.

In: PrintOptions and a target folder. Out: the folder, as README and DEVELOPERS describe it.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import ArtworkError, UsageError
from sepkit.files.edits import FILE_NAME, edits_text
from sepkit.files.folders.bench import BenchFacts
from sepkit.files.folders.entries import write_areas
from sepkit.files.folders.planes import file_word
from sepkit.files.folders.record import FilmFacts, PrintRecord, record_json, write_record
from sepkit.files.png import PICTURE_LEVEL, PngHead, picture_bands, write_png
from sepkit.memory import give_back
from sepkit.preview.garment import measures, paint_ahead
from sepkit.processes import worker_pool, workers_for
from sepkit.threads import each, start
from sepkit.units import to_hex
from sepkit.workshop.print.begun import Begun, Decided, begin, begins
from sepkit.workshop.print.discs import no_room
from sepkit.workshop.print.options import PrintOptions, bench_of, place_of
from sepkit.workshop.print.picture import explained_picture
from sepkit.workshop.print.plan import PlannedPrint, plan_art, read_art
from sepkit.workshop.print.proof import Proof, proofed
from sepkit.workshop.print.side_by_side import film_set_findings, side_by_side

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice
    from sepkit.model import U8, Finding, Progress
    from sepkit.plates.bench import Bench
    from sepkit.workshop.print.begun import FilmedPrint


@dataclass(frozen=True, slots=True, eq=False)
class Planned:
    """A plan and its proof."""

    print: PlannedPrint
    proof: Proof | None = None
    """None until it is proved: while its films are made."""
    begun: Begun | None = None
    """Files that were begun in its folder as soon as its plates were decided."""

    def proved(self) -> Planned:
        """Return it with its proof, and the plan with what that tells."""
        return Planned(*proofed(self.print), self.begun) if self.proof is None else self


UNEVEN_STEP, EVEN_SHARE = 32, 0.9
"""Of every so many rows and columns this share of pixels at least is like its neighbour in flat art."""
WORTH_BYTES = 250_000
"""Art files smaller than this together are planned sooner than a second process starts."""


@dataclass(frozen=True, slots=True, eq=False)
class MadePrint:
    """A print folder as it stands, and the plan it came from."""

    folder: Path
    planned: PlannedPrint
    record: dict[str, Any]

    def as_dict(self) -> dict[str, Any]:
        """Return what ``--json`` prints for it."""
        return {"folder": str(self.folder), **self.record}


def folder_name(art: Path, garments: Sequence[str]) -> str:
    """Return the default folder: the art's name, and the garment's when there is only one.

    >>> folder_name(Path("x/badge.png"), ["Black Tee"])
    'badge-black-tee'
    """
    return "-".join([art.stem or "print", *([garment_word(garments[0])] if len(garments) == 1 else ["prints"])])


def make_prints(
    options: Sequence[PrintOptions],
    target: Path,
    *,
    force: bool,
    progress: Progress | None = None,
    one_folder_each: bool = False,
) -> list[MadePrint]:
    """Make one print folder at ``target``, or one below it for each of several options.

    Raises SepkitError subclasses; then nothing is left at ``target`` that was not there before.
    """
    from sepkit.files.folders.write import check_writable, new_folder

    many = len(options) > 1 or one_folder_each
    names = [_folder_of(one, options) for one in options] if many else [""]
    if len(set(names)) < len(names):
        raise UsageError("the same garment is given twice", where="--on", hint="name each garment once")
    for art in {one.art for one in options}:
        if not art.exists():
            raise ArtworkError("no such file", where=str(art), hint="check the name and the folder")
    check_writable(target, force=force)
    made: list[MadePrint] = []
    with new_folder(target, force=force) as folder:
        into = folder / names[0] if len(options) == 1 else None
        plans = _compared(folder, _all_planned(options, progress, into))
        for planned, name in zip(plans, names, strict=True):
            proved, record = write_print(folder / name if name else folder, planned, progress=progress)
            made.append(MadePrint(target / name if name else target, proved.print, record))
        if many:
            write_record_of_many(folder, names)
    return made


def write_print(folder: Path, planned: Planned, *, progress: Progress | None = None) -> tuple[Planned, dict[str, Any]]:
    """Write one print folder's files into ``folder``; return what was planned, proved, and separation.json.

    Planes, films and spot.pdf were begun there when plates were decided, or are now; the proof and the pictures are
    drawn meanwhile.
    """
    folder.mkdir(parents=True, exist_ok=True)
    _check_sizes(planned.print.options, planned.print.bench)
    begun = planned.begun or begin(folder, _decided(planned), progress)
    try:
        planned = planned.proved()
        one, pictures = planned.print, _pictures(planned)
        for name, data in pictures.items():
            (folder / name).write_bytes(data)
        (folder / "sheet.html").write_text(_sheet(one, pictures), encoding="utf-8")
        if one.bench.edits:
            (folder / FILE_NAME).write_text(edits_text(one.bench.edits), encoding="utf-8")
        raw = record_json(record_of_print(folder, planned, begun.known.result()))
        begun.files.result()
    except BaseException:
        begun.drop()
        raise
    write_record(folder, raw)
    return planned, raw


def _check_sizes(options: PrintOptions, bench: Bench) -> None:
    for size in options.sizes:
        measures(bench.garment, size)  # a size that there is not is told before the work


def _decided(planned: Planned) -> Decided:
    one = planned.print
    separation = one.separation
    return Decided(separation.artwork, separation.garment, separation.plates, one.making, one.options.check_discs)


def _pictures(planned: Planned) -> dict[str, bytes]:
    """Return the folder's pictures as PNG, by file name."""
    one, proof = planned.print, planned.proof
    drawn = {
        **({"explain.png": explained_picture(one)} if one.options.explain else {}),
        **({} if proof is None else proof.pictures),
    }
    return dict(zip(drawn, each(_png, drawn.values()), strict=True))


def record_of_print(folder: Path, planned: Planned, known: FilmedPrint) -> PrintRecord:
    """Return the record of a print whose planes are in ``folder``; those of its areas are written there."""
    one, bench = planned.print, planned.print.bench
    separation, art = one.separation, one.separation.artwork
    return PrintRecord(
        artwork=known.artwork,
        garment=bench.garment,
        plates=known.plates,
        film=known.film,
        mean_de00=separation.mean_de00,
        p95_de00=separation.p95_de00,
        areas=write_areas(folder, one.areas, separation.plates, dpi=art.dpi),
        ground=one.flat.ground,
        blend_space=one.flat.blend_space,
        order_why=one.plan.order_why,
        parted=one.plan.rounds.parted,
        overprints=one.plan.overprints,
        bench=BenchFacts(
            bench.press,
            bench.base_ink,
            bench.white_cloth,
            bench.wishes,
            bench.frames,
            bench.may_turn,
            bench.measured,
            tuple(bench.mixed.values()),
        ),
        findings=_findings(planned, known.film),
        more=_more(planned),
    )


def _findings(planned: Planned, film: FilmFacts) -> tuple[Finding, ...]:
    """Return all findings of a print, and one where its check discs have no room."""
    separation = planned.print.separation
    if film.discs or not planned.print.options.check_discs:
        return separation.findings
    return (*separation.findings, no_room(separation.artwork.width_mm, separation.artwork.height_mm))


def _more(planned: Planned) -> dict[str, Any]:
    """Return what separation.json tells for programs besides."""
    reports = {} if planned.proof is None else planned.proof.record
    return {"options": _ways_json(planned.print.plan.choices), **_edits_json(planned.print), **reports}


def _sheet(one: PlannedPrint, pictures: Mapping[str, bytes]) -> str:
    from sepkit.sheets.html import html_page
    from sepkit.sheets.print_sheet import print_sheet
    from sepkit.sheets.words import where_words

    plan, garment = one.plan, one.bench.garment
    where = where_words(place_of(one.options, garment, one.separation.artwork.size), [garment])
    sheet = print_sheet(
        one.separation,
        choices=plan.choices,
        rounds=plan.rounds,
        order_why=plan.order_why,
        pictures=pictures,
        where=where,
    )
    return html_page(sheet)


def write_record_of_many(folder: Path, names: Sequence[str]) -> None:
    """Mark a folder of several print folders as ours, so that --force may replace it."""
    import json

    record = {"schema": "sepkit.prints/1", "prints": list(names)}
    (folder / "prints.json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


def _all_planned(options: Sequence[PrintOptions], progress: Progress | None, into: Path | None) -> list[Planned]:
    """Plan all prints; several of large art in two processes, where there are two cores and this is not one of them.

    ``into`` is where the files of a single one may begin.
    """
    large = sum(one.art.stat().st_size for one in options) > WORTH_BYTES
    count = workers_for(len(options))
    if count < 2 or not large:
        return [_planned(one, progress, into) for one in options]
    plans = []
    with worker_pool(count, preload=__name__) as pool:
        for number, one in enumerate([pool.submit(_planned_and_proved, one) for one in options]):
            if progress is not None:
                progress.step("planning prints", number, len(options))
            plans.append(one.result())
    return plans


def _planned(options: PrintOptions, progress: Progress | None, into: Path | None = None) -> Planned:
    from sepkit.files.shelf.shelf import Shelf

    return planned_print(options, bench_of(options, Shelf()), into=into, progress=progress)


def _planned_and_proved(options: PrintOptions) -> Planned:
    return _planned(options, None).proved()


def planned_print(
    options: PrintOptions, bench: Bench, *, into: Path | None = None, progress: Progress | None = None
) -> Planned:
    """Plan one print on its bench; the bare garment of its picture is painted meanwhile.

    Its files begin in the folder ``into``, where one is given, when its plates are decided.
    """
    _check_sizes(options, bench)
    _tell(progress, "reading the art")
    art = read_art(options)
    if _is_uneven(art.rgb):
        start(_load_ahead)
    place = place_of(options, bench.garment, art.size)
    start(lambda: paint_ahead(bench.garment, place))
    if into is None:
        return Planned(plan_art(art, options, bench, progress=progress))
    into.mkdir(parents=True, exist_ok=True)
    with begins(lambda given: begin(into, given, progress)) as begun:
        planned = plan_art(art, options, bench, progress=progress).for_its_proof()
        del art
        give_back()
    return Planned(planned, begun=begun[0])


def _is_uneven(rgb: U8) -> bool:
    """Tell whether colours change everywhere, across or down, as in gradients and in noise: SciPy is loaded sooner."""
    for lines in (rgb[::UNEVEN_STEP], rgb[:, ::UNEVEN_STEP].swapaxes(0, 1)):
        even = np.ones((len(lines), max(lines.shape[1] - 1, 0)), bool)
        for k in range(3):
            even &= lines[:, 1:, k] == lines[:, :-1, k]
        if np.count_nonzero(even) < EVEN_SHARE * even.size:
            return True
    return False


def _load_ahead() -> None:
    """Load what separating uneven art and dots takes later on; flat art takes none of it."""
    import_module("scipy.ndimage")
    import_module("scipy.sparse")


def _compared(folder: Path, plans: list[Planned]) -> list[Planned]:
    """Show prints of one art on several garments side by side; return the plans with what that tells."""
    prints = [planned.print for planned in plans]
    if len(prints) < 2 or len({one.options.art for one in prints}) > 1:
        return plans
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "side-by-side.png").write_bytes(_png(side_by_side(prints)))
    told = film_set_findings(prints)
    return [replace(planned, print=planned.print.telling(told)) for planned in plans]


def _edits_json(one: PlannedPrint) -> dict[str, Any]:
    """Return which changes by hand applied, and which found nothing, for programs."""
    if one.edited is None:
        return {}
    return {"edits": {"file": FILE_NAME, "applied": list(one.edited.applied), "missed": list(one.edited.missed)}}


def _ways_json(choices: Mapping[str, CoatChoice]) -> dict[str, Any]:
    """Return every way of every ink, with the chosen one, for programs."""
    return {
        name: {
            "chosen": choice.chosen.label,
            "ways": [
                {
                    "way": way.label,
                    "base_coats": way.base_coats,
                    "coats": way.coats,
                    "de00": round(way.de00, 2),
                    "srgb": to_hex(way.srgb),
                }
                for way in choice.options
            ],
        }
        for name, choice in choices.items()
    }


def _folder_of(one: PrintOptions, options: Sequence[PrintOptions]) -> str:
    several_arts = len({o.art for o in options}) > 1
    return f"{one.art.stem}-{garment_word(one.garment)}" if several_arts else garment_word(one.garment)


def garment_word(name: str) -> str:
    """Return a garment's name as a folder is called."""
    return file_word(name) or "garment"


def _png(picture: U8) -> bytes:
    data = io.BytesIO()
    height, width = picture.shape[:2]
    write_png(data, PngHead(width, height, "rgb"), picture_bands(np.ascontiguousarray(picture)), level=PICTURE_LEVEL)
    return data.getvalue()


def _tell(progress: Progress | None, stage: str) -> None:
    if progress is not None:
        progress.step(stage, 0, 1)
