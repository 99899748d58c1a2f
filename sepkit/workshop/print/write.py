"""Make print folders: plan each print, write everything into a new folder, and move it into place whole.

In: PrintOptions and a target folder. Out: the folder, as README and DEVELOPERS describe it.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import ArtworkError, UsageError
from sepkit.files.folders.record import separation_record, write_plates, write_record
from sepkit.processes import worker_pool, workers_for
from sepkit.workshop.print.films import FilmMaking, film_findings, gain_record, press_gain, printed_tones, write_films
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.picture import compare_picture, explained_picture, predicted_difference, preview_picture
from sepkit.workshop.print.plan import PlannedPrint, plan_print
from sepkit.workshop.print.proof import Proof, proofed
from sepkit.workshop.print.side_by_side import film_set_findings, side_by_side

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, Garment, Ink, Plate, Progress


Planned = tuple[PlannedPrint, "U8", Proof]
"""A plan, its predicted print and its proof."""


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
    return "-".join([art.stem or "print", *([_slug(garments[0])] if len(garments) == 1 else ["prints"])])


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
        plans = _all_planned(options, progress)
        plans = _compared(folder, plans)
        for (planned, pictured, proof), name in zip(plans, names, strict=True):
            record = write_print(folder / name if name else folder, planned, pictured, proof, progress=progress)
            made.append(MadePrint(target / name if name else target, planned, record))
        if many:
            write_record_of_many(folder, names)
    return made


def write_print(
    folder: Path, planned: PlannedPrint, printed: U8, proof: Proof | None = None, *, progress: Progress | None = None
) -> dict[str, Any]:
    """Write one print folder's files into ``folder``; return separation.json. ``printed`` is the predicted print."""
    from sepkit.files.films.spot_pdf import write_spot_pdf
    from sepkit.sheets.html import html_page
    from sepkit.sheets.print_sheet import print_sheet

    folder.mkdir(parents=True, exist_ok=True)
    separation, options = planned.separation, planned.options
    art, plates = separation.artwork, separation.plates
    title, gain = Path(art.source).stem, press_gain(options.press, options.edge_growth_um)
    _tell(progress, "plates")
    write_plates(folder, plates, dpi=art.dpi)
    with ThreadPoolExecutor(1) as beside:  # the films' own processes do their work, so pictures are drawn meanwhile
        films = beside.submit(
            write_films,
            folder,
            plates,
            width_mm=art.width_mm,
            height_mm=art.height_mm,
            dpi=options.film_dpi,
            garment=separation.garment.name,
            title=title,
            gain=gain,
            progress=progress,
        )
        write_spot_pdf(
            folder / "spot.pdf",
            plates,
            width_mm=art.width_mm,
            height_mm=art.height_mm,
            title=title,
            garment=separation.garment.srgb,
        )
        pictures = {
            "preview.png": _png(preview_picture(planned, printed)),
            "compare.png": _png(compare_picture(planned, printed)),
            **({"explain.png": _png(explained_picture(planned))} if options.explain else {}),
            **({} if proof is None else {name: _png(picture) for name, picture in proof.pictures.items()}),
        }
        film_px = films.result()
    for name, data in pictures.items():
        (folder / name).write_bytes(data)
    sheet = print_sheet(
        separation,
        choices=planned.choices,
        rounds=planned.rounds,
        order_why=planned.order_why,
        pictures=pictures,
    )
    (folder / "sheet.html").write_text(html_page(sheet), encoding="utf-8")
    record = separation_record(separation, film_dpi=options.film_dpi, film_px=film_px, extra=_decisions(planned))
    for entry, plate in zip(record["plates"], plates, strict=True):
        entry |= {"round": plate.round, "flash_why": plate.flash_why, "also_base": plate.also_base is not None}
    record["film"] |= gain_record(gain)
    record |= {} if proof is None else proof.record
    write_record(folder, record)
    return record


def write_record_of_many(folder: Path, names: Sequence[str]) -> None:
    """Mark a folder of several print folders as ours, so that --force may replace it."""
    import json

    record = {"schema": "sepkit.prints/1", "prints": list(names)}
    (folder / "prints.json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


def _all_planned(options: Sequence[PrintOptions], progress: Progress | None) -> list[Planned]:
    """Plan all prints; several of large art in two processes, where there are two cores and this is not one of them."""
    large = sum(one.art.stat().st_size for one in options) > WORTH_BYTES
    count = workers_for(len(options))
    if count < 2 or not large:
        return [_planned(one, progress) for one in options]
    plans = []
    with worker_pool(count, preload=__name__) as pool:
        for number, one in enumerate([pool.submit(_planned, one, None) for one in options]):
            if progress is not None:
                progress.step("planning prints", number, len(options))
            plans.append(one.result())
    return plans


def _planned(options: PrintOptions, progress: Progress | None) -> Planned:
    kept: list[U8] = []
    curve = printed_tones(FilmMaking(options.film_dpi, press_gain(options.press, options.edge_growth_um)))

    def look(plates: Sequence[Plate], inks: Sequence[Ink], garment: Garment, art: Artwork) -> tuple[float, float]:
        return predicted_difference(plates, inks, garment, art, keep=kept, tone_curve=curve)

    planned = plan_print(options, look=look, progress=progress)
    separation = planned.separation
    findings = separation.findings + film_findings(separation.plates, dpi=options.film_dpi)
    planned = replace(planned, separation=replace(separation, findings=findings))
    _tell(progress, "stress and ladder")
    planned, proof = proofed(planned, kept[-1])
    return planned, kept[-1], proof


def _compared(folder: Path, plans: list[Planned]) -> list[Planned]:
    """Show prints of one art on several garments side by side; return the plans with what that tells."""
    arts = {planned.options.art for planned, _, _ in plans}
    if len(plans) < 2 or len(arts) > 1:
        return plans
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "side-by-side.png").write_bytes(_png(side_by_side([(planned, seen) for planned, seen, _ in plans])))
    told = film_set_findings([planned for planned, _, _ in plans])
    return [
        (
            replace(planned, separation=replace(planned.separation, findings=(*planned.separation.findings, *told))),
            seen,
            proof,
        )
        for planned, seen, proof in plans
    ]


def _decisions(planned: PlannedPrint) -> dict[str, Any]:
    return {
        "press": {
            "name": planned.press.name,
            "heads": planned.press.heads,
            "register_error_mm": planned.press.register_error_mm,
        },
        "blend_space": planned.flat.blend_space,
        "order_why": planned.order_why,
        "rounds": [
            {
                "round": number,
                "screens": [planned.separation.plates[i].name for i in screens],
                "reload_after": planned.rounds.reload_after(number),
            }
            for number, screens in enumerate(planned.rounds.rounds, 1)
        ],
        "options": {
            name: {
                "chosen": choice.chosen.label,
                "ways": [
                    {
                        "way": o.label,
                        "base_coats": o.base_coats,
                        "coats": o.coats,
                        "de00": round(o.de00, 2),
                        "srgb": "#{:02x}{:02x}{:02x}".format(*o.srgb),
                    }
                    for o in choice.options
                ],
            }
            for name, choice in planned.choices.items()
        },
    }


def _folder_of(one: PrintOptions, options: Sequence[PrintOptions]) -> str:
    several_arts = len({o.art for o in options}) > 1
    return f"{one.art.stem}-{_slug(one.garment)}" if several_arts else _slug(one.garment)


def _slug(text: str) -> str:
    word = "".join(c if c.isalnum() else "-" for c in text.lower())
    return "-".join(part for part in word.split("-") if part) or "garment"


def _png(picture: U8) -> bytes:
    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(picture).save(data, format="PNG", compress_level=4)
    return data.getvalue()


def _tell(progress: Progress | None, stage: str) -> None:
    if progress is not None:
        progress.step(stage, 0, 1)
