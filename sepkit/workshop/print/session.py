"""A print held open: decided again for every change by hand, shown as an index and a table.

In: PrintOptions, then edits as values of an edits file. Out: frozen descriptions of what is to be printed, planes for
whoever draws. Art and areas stay; only what an edit touches is decided again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.names import distinct_words
from sepkit.coverage.keep import Keep, session_bytes
from sepkit.coverage.sums import mean_share
from sepkit.errors import UsageError
from sepkit.files.edits import edits_of_values, edits_text
from sepkit.files.shelf.shelf import Shelf
from sepkit.preview.index import StackIndex, stack_index
from sepkit.preview.stack import lies_under, plane_seen, planes_seen, stack_colours
from sepkit.units import to_hex
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.print.held import Dressed, LiftTable, Piece, pieces_of
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import PlannedPrint, edited_again, plan_art, read_art

if TYPE_CHECKING:
    from sepkit.decisions import Wishes
    from sepkit.model import F64, U8, Bool, Finding, Plate, Progress
    from sepkit.preview.difference import Difference
    from sepkit.preview.garment import BareGarment


@dataclass(frozen=True, slots=True)
class Station:
    """One screen of the print, in print order."""

    name: str
    role: str
    ink: str
    of: str
    """Its area's colour in the art as #rrggbb; empty for a base."""
    print_srgb: str
    coats: int
    mesh: str
    lpi: float
    """Of its halftone; 0 where it has none."""
    round: int
    flash_why: str
    """Empty where the next screen goes on wet."""
    de00: float
    """Predicted colour to the colour that the ink is meant to have; 0 for a base."""
    on_base: bool
    why: str
    area_cm2: float
    trap_mm: float
    choke_mm: float


@dataclass(frozen=True, slots=True)
class FoundArea:
    """One colour of the art as found, and where it prints."""

    srgb: str
    name: str
    area_cm2: float
    with_: str
    """The area whose screen prints it too, as #rrggbb; empty where it has its own."""
    open: bool


@dataclass(frozen=True, slots=True)
class Told:
    """A finding, in words."""

    word: str
    text: str
    hint: str
    more: str
    """Figures and reasons; may be empty."""
    place_mm: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class SessionState:
    """What a person is shown of a print."""

    art: str
    garment: str
    garment_srgb: str
    press: str
    heads: int
    width_mm: float
    height_mm: float
    width_px: int
    height_px: int
    trap_mm: float
    choke_mm: float
    mean_de00: float
    p95_de00: float
    held_against: str
    """What these two are from."""
    rounds: int
    stations: tuple[Station, ...]
    areas: tuple[FoundArea, ...]
    findings: tuple[Told, ...]
    missed: tuple[str, ...]
    """Edits that found nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Colours:
    """The linear light of every stack of the plates, (2^n, 3), bit i of the row for plate i; what lies under others."""

    linear: F64
    under: tuple[bool, ...]


class Session:
    """A print on its bench, with the edits that were made so far. Raises as ``plan_print`` does."""

    def __init__(
        self,
        options: PrintOptions,
        *,
        job: Path | None = None,
        pack: Callable[[BareGarment], bytes] | None = None,
        progress: Progress | None = None,
    ) -> None:
        """Open a print; one of a job file is decided for the job's press and frames.

        ``pack`` makes of its bare garment what ``dressed`` returns, beside the deciding.
        """
        self.options = replace(options, edits=None)
        bench = bench_of(self.options, Shelf())
        if job is not None:
            read = load_job(job)
            bench = replace(bench, press=read.press, frames=read.screens)
        bench = replace(bench, keep=Keep(session_bytes(), lasting=True))
        if progress is not None:
            progress.step("reading the art", 0, 1)
        art = read_art(self.options)
        self._dressed = None if pack is None else Dressed(self.options, bench.garment, art.size, pack)
        self._planned = plan_art(art, self.options, bench, progress=progress)
        self._wishes = self._planned.asked or bench.wishes
        settle_keep(self._planned)
        self._pieces: tuple[Piece, ...] | None = None
        self._lifts: LiftTable | None = None

    @property
    def planned(self) -> PlannedPrint:
        """The print as it stands."""
        return self._planned

    @property
    def wishes(self) -> Wishes:
        """What was wished before any edit."""
        return self._wishes

    def pieces(self) -> tuple[Piece, ...]:
        """Return the finished pieces that there are to choose from; worked out once for a print as it stands."""
        if self._pieces is None:
            self._pieces = pieces_of(self._planned)
        return self._pieces

    def edit(self, values: Mapping[str, Any]) -> None:
        """Decide again with these edits and no others; on any error the print stays as it was.

        Raises DataFileError for values that are no edits, ArtworkError or UsageError for those that cannot be printed.
        """
        edits = edits_of_values(values, Shelf(), where="edits")  # what was put on the shelf since counts
        self._planned = edited_again(self._planned, edits, self._wishes)
        self._pieces = self._lifts = None

    def difference(self, lifted: Sequence[int]) -> Difference:
        """Return how far the print is from its art with some screens lifted, ΔE00 over art and ink."""
        if self._lifts is None:
            self._lifts = LiftTable.of(self._planned, self.index())
        return self._lifts.difference(self._planned, lifted)

    def dressed(self) -> bytes:
        """Return the packed garment without print. Raises UsageError where nobody said how, or for its place."""
        if self._dressed is None:
            raise UsageError("nobody packs the garment", where="garment", hint="open the print with pack")
        return self._dressed.bytes(self._planned.separation.artwork.size)

    def edits_text(self) -> str:
        """Return the edits as a file's text."""
        return edits_text(self._planned.bench.edits)

    def state(self) -> SessionState:
        """Return what is to be shown."""
        planned, art, bench = self._planned, self._planned.separation.artwork, self._planned.bench
        plates = planned.separation.plates
        cm2 = art.width_mm * art.height_mm / 100
        return SessionState(
            art=Path(art.source).name,
            garment=bench.garment.name,
            garment_srgb=to_hex(bench.garment.srgb),
            press=bench.press.name,
            heads=bench.press.heads,
            width_mm=art.width_mm,
            height_mm=art.height_mm,
            width_px=art.alpha.shape[1],
            height_px=art.alpha.shape[0],
            trap_mm=bench.trap_mm,
            choke_mm=bench.choke_mm,
            mean_de00=planned.separation.mean_de00,
            p95_de00=planned.separation.p95_de00,
            held_against="the art" if planned.seen.attainable is None else "the art as ink can be here",
            rounds=len(planned.plan.rounds.rounds),
            stations=tuple(_station(plate, planned, cm2) for plate in plates),
            areas=_areas(planned, cm2),
            findings=tuple(_told(finding) for finding in planned.separation.findings),
            missed=() if planned.edited is None else planned.edited.missed,
        )

    def index(self) -> StackIndex:
        """Return the print as runs of one combination of coverages."""
        plates = self._planned.separation.plates
        return stack_index(self._planes(), [plate.tone for plate in plates])

    def plane_index(self, plate: int) -> StackIndex:
        """Return one plate alone, with every level of its coverage, which an index of many plates has not.

        Raises UsageError for a plate that there is not.
        """
        from sepkit.press.filming import tone_curve

        one = self._plate(plate)
        plates, curve = self._planned.separation.plates, tone_curve(self._planned.making)
        return stack_index([plane_seen(plates, plate, tone_curve=curve)], [one.tone])

    def _plate(self, plate: int) -> Plate:
        plates = self._planned.separation.plates
        if not 0 <= plate < len(plates):
            raise UsageError(f"there is no screen {plate + 1}", where="plate", hint=f"the print has {len(plates)}")
        return plates[plate]

    def planes_digest(self) -> str:
        """Return what stands for all planes: as long as it is the same, so is the index."""
        digest = hashlib.sha256()
        for plane, plate in zip(self._planes(), self._planned.separation.plates, strict=True):
            digest.update(plane.tobytes())
            if plate.tone is not None:
                digest.update(np.packbits(plate.tone).tobytes())
        return digest.hexdigest()

    def _planes(self) -> list[U8]:
        from sepkit.press.filming import tone_curve

        return planes_seen(self._planned.separation.plates, tone_curve=tone_curve(self._planned.making))

    def colours(self) -> Colours:
        """Return the colour of every stack of the plates, as the predicted print takes them."""
        plates = self._planned.separation.plates
        colour = stack_colours(plates, self._planned.bench.garment)
        stacks = [tuple(i for i in range(len(plates)) if bits >> i & 1) for bits in range(1 << len(plates))]
        return Colours(np.array([colour(stack) for stack in stacks]), tuple(lies_under(plates)))

    def art_picture(self, most_px: int = 1600) -> U8:
        """Return the art on the garment's colour, its longer side at most ``most_px``."""
        from sepkit.preview.seen import art_seen, factor_for

        art = self._planned.separation.artwork
        factor = factor_for((art.alpha.shape[0], art.alpha.shape[1]), most_px)
        return art_seen(art.rgb, art.alpha, self._planned.bench.garment.srgb, factor=factor)

    def film_window(self, plate: int, x_px: int, y_px: int, width_px: int, height_px: int) -> Bool:
        """Return a window of a plate's film, (h, w) bool, True = ink, in film pixels, right-reading, cut at its edges.

        Raises UsageError for a plate that there is not, or a window beside the film.
        """
        from sepkit.film.outline import film_size_px
        from sepkit.film.rows import plan_film
        from sepkit.press.filming import film_settings

        planned, one = self._planned, self._plate(plate)
        art = planned.separation.artwork
        wide, tall = film_size_px(art.width_mm, art.height_mm, planned.making.dpi)
        width, height = min(width_px, wide - x_px), min(height_px, tall - y_px)
        if x_px < 0 or y_px < 0 or width < 1 or height < 1:
            raise UsageError("that is beside the film", where="film", hint=f"it has {wide} x {tall} pixels")
        film = plan_film(
            one.printed,
            one.tone,
            width_mm=art.width_mm,
            height_mm=art.height_mm,
            halftone=one.halftone,
            settings=film_settings(planned.making, one.mesh, one.halftone),
        )
        rows = np.concatenate(list(film.part(x_px, y_px, width, height).bands()))
        bits: Bool = np.unpackbits(rows, axis=1, count=width).view(bool)
        return bits


def make_folder(session: Session, folder: str, *, progress: Progress | None = None) -> list[str]:
    """Make the print folder as ``sepkit separate --edits`` does; return the names of its files.

    Raises SepkitErrors as ``make_prints`` does, and WriteError for a folder that exists.
    """
    import tempfile

    from sepkit.workshop.print.write import make_prints

    target = Path(folder)
    options = session.options
    with tempfile.TemporaryDirectory() as beside:
        if session.planned.bench.edits:
            edits = Path(beside) / "edits.toml"
            edits.write_text(session.edits_text(), encoding="utf-8")
            options = replace(options, edits=edits)
        make_prints([options], target, force=False, progress=progress)
    return sorted(str(path.relative_to(target)) for path in target.rglob("*") if path.is_file())


def settle_keep(planned: PlannedPrint) -> None:
    """Give a print's Keep the room that a session has for its art, which lives as long, as do its areas as found."""
    art = planned.separation.artwork
    areas = [plane for area in planned.flat.areas for plane in (area.coverage, area.tone) if plane is not None]
    planned.bench.keep.hold([art.rgb, art.alpha, *areas])
    planned.bench.keep.bound(session_bytes(art.alpha.size))


def _station(plate: Plate, planned: PlannedPrint, cm2: float) -> Station:
    choice = planned.plan.choices.get(plate.name)
    return Station(
        name=plate.name,
        role=plate.role,
        ink=plate.ink.name,
        of="" if plate.art_srgb is None else to_hex(plate.art_srgb),
        print_srgb=to_hex(plate.print_srgb),
        coats=plate.coats,
        mesh=str(plate.mesh),
        lpi=0.0 if plate.halftone is None else plate.halftone.lpi,
        round=plate.round,
        flash_why=plate.flash_why,
        de00=0.0 if choice is None else choice.chosen.de00,
        on_base=choice is not None and choice.chosen.base_coats > 0,
        why=plate.why,
        area_cm2=mean_share(plate.printed) * cm2,
        trap_mm=plate.trap_mm,
        choke_mm=plate.choke_mm,
    )


def _areas(planned: PlannedPrint, cm2: float) -> tuple[FoundArea, ...]:
    found = [area for area in planned.flat.areas if area.coverage.any()]
    edits = {edit.of: edit for edit in planned.bench.edits.areas}
    words = distinct_words([area.srgb for area in found])
    out = []
    for area, word in zip(found, words, strict=True):
        edit = edits.get(area.srgb)
        into = edit.into if edit else None
        out.append(
            FoundArea(
                to_hex(area.srgb),
                (edit.wish.name if edit else "") or area.name or word,
                mean_share(area.coverage) * cm2,
                to_hex(into) if into else "",
                bool(edit and edit.open),
            )
        )
    return tuple(out)


def _told(finding: Finding) -> Told:
    return Told(finding.word, finding.text, finding.hint, finding.more, finding.place_mm)
