"""One print, from art and bench to a plan with its predicted picture: the one way of a print.

In: PrintOptions for the art, a Bench for all else. Out: PlannedPrint. Reads the art; everything after that is computed.
A plan is decided again from its areas by ``planned_again``: nothing is read or separated for a changed wish.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colour_word
from sepkit.coverage.sums import total_level
from sepkit.errors import ArtworkError
from sepkit.film.making import FilmMaking
from sepkit.film.tone import DotGain
from sepkit.intake.kinds import CODE as KIND_CODE
from sepkit.memory import give_back
from sepkit.model import Artwork, Finding, FlatSeparation, InkRequest, Separation
from sepkit.plates.decide import Plan
from sepkit.plates.edits import edited
from sepkit.plates.followed import Before
from sepkit.plates.knee import OPEN
from sepkit.plates.overprint_plan import decide_plates
from sepkit.press.fit import FitItem, print_findings
from sepkit.threads import start
from sepkit.workshop.print.begun import Decided, decided
from sepkit.workshop.print.films import film_findings
from sepkit.workshop.print.findings import art_findings, plan_findings
from sepkit.workshop.print.inks import InksChosen, choices_kept, inks_chosen, weighs
from sepkit.workshop.print.intake import is_tonal, kind_told, proposal, proposal_finding, single_of, taken_in
from sepkit.workshop.print.many_colours import Settled, settled
from sepkit.workshop.print.options import PrintOptions, parted_by, place_of
from sepkit.workshop.print.predict import predicted_print
from sepkit.workshop.print.scans import dots_settled
from sepkit.workshop.print.tones import solved_tones

if TYPE_CHECKING:
    from sepkit.decisions import PrintEdits, Wishes
    from sepkit.model import InkArea, Progress, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.edits import Edited
    from sepkit.preview.seen import SeenPrint

BOX_CODES = frozenset({"one-colour-box", "printed-background"})


@dataclass(frozen=True, slots=True, eq=False)
class PlannedPrint:
    """A print as planned: what the art asks, what was decided, what it will look like."""

    options: PrintOptions
    bench: Bench
    flat: FlatSeparation
    """What the art asks."""
    areas: tuple[InkArea, ...]
    """Those of ``flat`` with ink in them, after changes by hand."""
    plan: Plan
    separation: Separation
    seen: SeenPrint
    """The predicted print beside the art."""
    making: FilmMaking
    found: InksChosen | None = None
    """How its inks were chosen; None for a plan decided again."""
    edited: Edited | None = None
    """What became of changes by hand; None where there were none."""
    asked: Wishes | None = None
    """The wishes before changes by hand, those of plates that were brought or solved among them."""

    def telling(self, findings: tuple[Finding, ...]) -> PlannedPrint:
        """Return the print with more findings."""
        told = replace(self.separation, findings=(*self.separation.findings, *findings))
        return replace(self, separation=told)

    def for_its_proof(self) -> PlannedPrint:
        """Return the print without the art's colours, a fifth of its memory, where its proof does not ask for them."""
        found = () if self.found is None else self.found.found
        if self.options.explain or self.bench.wishes.solved or any(area.tone is not None for area in found):
            return self
        art = self.separation.artwork.without_colours()
        return replace(self, separation=replace(self.separation, artwork=art))


def plan_print(options: PrintOptions, bench: Bench, *, progress: Progress | None = None) -> PlannedPrint:
    """Read the art, separate it, decide every screen and predict the print.

    Raises ArtworkError or UsageError with one clear line.
    """
    _tell(progress, "reading the art")
    return plan_art(read_art(options), options, bench, progress=progress)


def plan_art(art: Artwork, options: PrintOptions, bench: Bench, *, progress: Progress | None = None) -> PlannedPrint:
    """Return the plan of art as read; raises as ``plan_print`` does."""
    place_of(options, bench.garment, art.size)  # a place that the garment has not is told before the work
    _tell(progress, "separating")
    art, flat, bench = separated(art, options, bench, progress=progress)
    if not options.explain:
        flat = replace(flat, unexplained=None)  # a plane that is not looked at again
    areas = tuple(area for area in flat.areas if area.coverage.any())
    if not areas:
        one = proposal(single_of(art), options, bench)
        raise ArtworkError(
            f"nothing to print on {bench.garment.name}",
            where=art.source,
            hint="all of the art is transparent or has the garment's colour; choose another garment"
            if one is None
            else one.hint,
        )
    _tell(progress, "choosing inks, deciding base, coats and order")
    found = settled(areas, art, flat, options, bench)
    planned = _planned_with_edits(options, found.bench, art, found.flat, found)
    return replace(planned, asked=found.bench.wishes)


def read_art(options: PrintOptions) -> Artwork:
    """Return the art of a print as read: with the plates that it brings, and its printed dots settled."""
    from sepkit.files.art.artwork import read_artwork

    art = read_artwork(
        options.art,
        width_mm=options.width_mm,
        height_mm=options.height_mm,
        film_dpi=options.film_dpi,
        by=parted_by(options),
    )
    return dots_settled(art, options.dots)


def planned_again(planned: PlannedPrint, wishes: Wishes) -> PlannedPrint:
    """Return the print decided again with other wishes, from the areas that it has.

    Inks are asked for when the art is separated: ``wishes.inks`` changes nothing here, ``wishes.areas`` does.
    """
    bench = replace(planned.bench, wishes=wishes)
    return _planned(planned.options, bench, planned.separation.artwork, planned.flat, planned.areas)


def edited_again(planned: PlannedPrint, edits: PrintEdits, wishes: Wishes) -> PlannedPrint:
    """Return the print decided again from its areas as found, with these changes by hand in place of its own.

    ``wishes`` are those of the print as asked, before any change. Raises ArtworkError when the changes leave nothing.
    """
    bench = replace(planned.bench, wishes=wishes, edits=edits)
    areas = tuple(area for area in planned.flat.areas if area.coverage.any())
    instead = None if planned.found is None else planned.found.instead
    settled = Settled(planned.flat, areas, bench, instead=instead)
    return _planned_with_edits(planned.options, bench, planned.separation.artwork, planned.flat, settled)


def separated(
    art: Artwork, options: PrintOptions, bench: Bench, *, progress: Progress | None = None
) -> tuple[Artwork, FlatSeparation, Bench]:
    """Return the art as it prints, what it asks of each ink, and the bench for these.

    The art is without paper, or a background that was dropped; plates that it brings are taken as they are. What kind
    of art it is stands first among the findings.
    """
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.plates.overprint_look import implied_request
    from sepkit.separation.background import art_without, without_background, without_open_border
    from sepkit.separation.palette import MAX_MEMBERS
    from sepkit.separation.redrawn import redrawn
    from sepkit.separation.separate import separate
    from sepkit.workshop.print.brought import plates_brought

    if art.plates:
        brought = plates_brought(art, bench, Shelf(), soft=options.soft, progress=progress)
        return art, brought.flat, brought.bench
    scanned = next((finding for finding in art.findings if finding.code == KIND_CODE), None)
    taken = None if scanned is not None and not options.one_ink else taken_in(art, options, bench)
    if taken is not None:
        same_grid = taken.art.rgb.shape == art.rgb.shape
        return taken.art, redrawn(art, taken.flat, options.edges) if same_grid else taken.flat, bench
    ground, request = bench.garment.srgb, bench.wishes.inks
    if request.count is not None and bench.shelf:
        request = InkRequest()  # how many are kept is chosen by what each is worth
    wanted = implied_request(request, bench, most=MAX_MEMBERS)
    flat = separate(art, ground, wanted, soft=options.soft, kind=options.kind, on_step=progress)
    if wanted is not request and any(area.tone is not None for area in flat.areas):
        flat = separate(
            art, ground, request, soft=options.soft, kind=options.kind, on_step=progress
        )  # tones mix by their dots
    single = single_of(art)
    told = [kind_told(single, flat, options)] if scanned is None else []
    if scanned is not None:  # its tones are on a clear ground: no shadow of the artist's
        flat = replace(flat, findings=tuple(f for f in flat.findings if f.code != "soft-transparency"))
    one = proposal(single, options, bench)
    if one is not None:
        told.append(proposal_finding(one))
        flat = replace(flat, findings=tuple(f for f in flat.findings if f.code != "printed-background"))
    flat = replace(flat, findings=(*told, *flat.findings))
    if options.background == "drop":
        whole, flat = flat, without_background(flat)
        art = art_without(art, whole, flat) if flat is not whole else without_open_border(art, flat)
    if is_tonal(flat) and any(area.coverage.any() for area in flat.areas) and bench.shelf:
        flat, bench = solved_tones(art, flat, bench)
        return art, flat, bench
    return art, redrawn(art, flat, options.edges), bench


def _planned_with_edits(
    options: PrintOptions, bench: Bench, art: Artwork, flat: FlatSeparation, known: Settled
) -> PlannedPrint:
    if not bench.edits:
        return _with_inks(options, bench, art, flat, known)
    found = edited(known.areas, art.size, bench.wishes, bench.edits)
    if not found.areas:
        raise ArtworkError("the edits leave nothing to print", where=art.source, hint="leave one area that prints")
    before = None
    if weighs(bench):
        choices = known.choices or choices_kept(known.areas, art.size, bench)
        before = Before(known.areas, choices, found.goes)
    now = replace(known, areas=found.areas, choices=None)
    planned = _with_inks(options, replace(bench, wishes=found.wishes), art, flat, now, before)
    changed = _art_changed(options, bench.edits)
    return replace(planned.telling((*found.findings, *changed)), edited=found)


def _with_inks(
    options: PrintOptions,
    bench: Bench,
    art: Artwork,
    flat: FlatSeparation,
    known: Settled,
    before: Before | None = None,
) -> PlannedPrint:
    found = inks_chosen(known.areas, art, bench, known.choices, before)
    planned = _planned(options, found.bench, art, _box_told(flat, known.areas, found), found.areas)
    return replace(planned.telling(found.findings), flat=flat, found=replace(found, instead=known.instead))


def _box_told(flat: FlatSeparation, areas: tuple[InkArea, ...], found: InksChosen) -> FlatSeparation:
    """Return the separation without the word that its ground prints as a box, where the ground stays bare cloth."""
    box = next((one for one in flat.findings if one.code in BOX_CODES), None)
    if box is None or found.reduction is None:
        return flat
    ground = max(range(len(areas)), key=lambda k: total_level(areas[k].coverage))
    if found.reduction.stands[ground].ink != OPEN:
        return flat
    text = f"the {colour_word(areas[ground].srgb)} ground is near the cloth's colour and stays bare"
    told = Finding("ground-left-open", "info", text, "--inks all prints it")
    return replace(flat, findings=tuple(told if one is box else one for one in flat.findings))


def _art_changed(options: PrintOptions, edits: PrintEdits) -> tuple[Finding, ...]:
    """Return a finding when the edits were made for other art."""
    if not edits.art_sha256:
        return ()
    with options.art.open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() == edits.art_sha256:
            return ()
    text = f"the edits were made for another {options.art.name}"
    return (Finding("edits-other-art", "warn", text, "look at the picture: those that fit still apply"),)


def _planned(
    options: PrintOptions, bench: Bench, art: Artwork, flat: FlatSeparation, areas: tuple[InkArea, ...]
) -> PlannedPrint:
    with bench.keep.used():
        return _predicted(options, bench, art, flat, areas)


def _predicted(
    options: PrintOptions, bench: Bench, art: Artwork, flat: FlatSeparation, areas: tuple[InkArea, ...]
) -> PlannedPrint:
    plan = decide_plates(areas, art.size, bench)
    give_back()
    _check_screens(len(plan.plates), art)
    making = film_making(options, bench)
    told = film_findings(plan.plates, dpi=making.dpi)
    decided(Decided(art.without_colours(), bench.garment, plan.plates, making, options.check_discs))
    beside = start(lambda: predicted_print(plan.plates, bench.garment, art, making=making, best=bench.best))
    findings = (
        *(one for one in flat.findings if one.code != "tones"),  # told of the screens that are made
        *art_findings(art),
        *_fit_findings(options, bench, art.size),
        *plan_findings(art, plan, bench),
        *told,
    )
    seen = beside.result()
    far = seen.difference
    separation = Separation(art, bench.garment, plan.plates, far.mean_de00, far.p95_de00, findings)
    return PlannedPrint(options, bench, flat, areas, plan, separation, seen, making)


def _fit_findings(options: PrintOptions, bench: Bench, size: Size) -> list[Finding]:
    """Return what stands in the way of a print of this size at its place on the garment."""
    place = place_of(options, bench.garment, size)
    item = FitItem("the print", place, size.width_mm, size.height_mm, sizes=options.sizes)
    return [
        *print_findings(item, bench.garment, bench.press),
        *_film_findings(size, bench.measured.get("film_width_mm")),
    ]


def _film_findings(size: Size, film_width_mm: float | None) -> list[Finding]:
    """Tell of a print that is wider than the shop's films, either way round."""
    if film_width_mm is None or min(size.width_mm, size.height_mm) <= film_width_mm:
        return []
    text = f"the print is wider than your films of {film_width_mm:g} mm"
    return [
        Finding("wider-than-film", "warn", text, "`sepkit films --sheet` cuts them into tiles, or print it smaller")
    ]


def film_making(options: PrintOptions, bench: Bench) -> FilmMaking:
    """Return how the films of a print are made: against the growth of edges as told, else as measured on the press."""
    told = options.edge_growth_um
    growth_um = bench.measured.get("edge_growth_um", 0.0) if told is None else told
    return FilmMaking(options.film_dpi, DotGain(edge_um=growth_um))


def _check_screens(count: int, art: Artwork) -> None:
    from sepkit.preview.keys import MOST_PLATES

    if count > MOST_PLATES:
        raise ArtworkError(
            f"needs {count} screens, more than the {MOST_PLATES} that can be planned",
            where=art.source,
            hint="give --inks 6, or art of fewer colours",
        )


def _tell(progress: Progress | None, stage: str) -> None:
    if progress is not None:
        progress.step(stage, 0, 1)
