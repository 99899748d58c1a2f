"""What the job sheet tells of a plan, and the pictures it shows.

In: a JobPlan, recipes, the drawings and films of its screens. Out: JobContent; the prints' previews are read from their
folders.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from PIL import Image, ImageOps

from sepkit.places import PLACES
from sepkit.press.quantities import Hits, Loading
from sepkit.sheets.blocks import Picture
from sepkit.sheets.job_sheet import JobContent, RoundFacts
from sepkit.sheets.words import where_words
from sepkit.workshop.drop.runs import pieces_of, presses_of, pulls_of

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine
    from sepkit.model import U8, Finding, Garment
    from sepkit.workshop.drop.facts import PrintFacts
    from sepkit.workshop.drop.plan import JobPlan
    from sepkit.workshop.drop.recipes import CupRecipe
    from sepkit.workshop.drop.screens import ScreenPictures

PICTURE_PX = 640
FILM_PX = 260


def job_content(
    plan: JobPlan,
    *,
    recipes: Mapping[str, CupRecipe],
    screens: ScreenPictures,
    findings: Sequence[Finding],
) -> JobContent:
    """Return what the sheets tell."""
    plates = [image.plate for facts in plan.prints for image in facts.images]
    pictures = {facts.print.label: _print_picture(facts) for facts in plan.prints}
    return JobContent(
        job=plan.job,
        gang=plan.gang,
        order=plan.order,
        needs=plan.needs,
        blanks=plan.blanks,
        minutes=plan.minutes,
        costs=plan.costs,
        findings=tuple(findings),
        ink_srgb={name: ink.srgb for name, ink in plan.inks.items()},
        recipes={name: recipe.parts for name, recipe in recipes.items()},
        prints=tuple(pictures.values()),
        screens=tuple(Picture(data, caption) for data, caption in screens.drawings),
        films=screens.films,
        presses=plan.presses,
        flashes=any(plate.flash_after or plate.coats > 1 for plate in plates),
        fleece=any(garment.fleece for facts in plan.prints for _, garment in facts.print.wearers),
        buying=plan.buying.levels,
        chosen=plan.buying.chosen,
        proven=plan.proven,
        lacking=tuple(f"blade of {width:.0f} mm: {count} more" for width, count in _blades(plan).items()),
        rounds={
            (facts.print.print.name, line.garment): _round(plan, facts, line, garment, pictures[facts.print.label])
            for facts in plan.prints
            for line, garment in facts.print.wearers
        },
        screen_pictures=screens.at_press,
        film_pictures={
            image.name: _film_picture(image.plate.printed) for facts in plan.prints for image in facts.images
        },
    )


def _blades(plan: JobPlan) -> dict[float, int]:
    out: dict[float, int] = {}
    for short in plan.blades:
        out[short.width_mm] = max(out.get(short.width_mm, 0), short.needed - short.owned)
    return out


def _round(plan: JobPlan, facts: PrintFacts, line: GarmentLine, garment: Garment, picture: Picture) -> RoundFacts:
    """Return what the card of a print on one garment tells."""
    one = facts.print.print
    pieces, grams = pieces_of(one, line, plan.blanks), {}
    pulls, _ = pulls_of(plan.job, facts, plan.gang)
    for image, pull in zip(facts.images, pulls, strict=True):
        density = image.plate.ink.density_g_ml
        load = Loading(image.name, pull.ink, density, pull.blade_mm).grams
        hits = Hits(
            image.name, pull.ink, density, image.mesh, image.inked_cm2, pull.coats, pieces, fleece=garment.fleece
        )
        grams[image.name] = (load, hits.grams_per_hit(plan.job.ink_factor) * pull.coats * pieces)
    where = where_words(PLACES[one.placement], [garment])
    seen = facts.print.garment.name
    shown = "" if seen == line.garment else f", shown on {seen}"
    small = replace(picture, caption=f"{facts.width_mm:.0f} x {facts.height_mm:.0f} mm{shown}")
    return RoundFacts(small, where, grams, presses_of(plan.job, facts))


def _print_picture(facts: PrintFacts) -> Picture:
    with Image.open(facts.folder / "preview.png") as image:
        small = image.convert("RGB")
    small.thumbnail((PICTURE_PX, PICTURE_PX))
    data = io.BytesIO()
    small.save(data, "JPEG", quality=85)
    one = facts.print
    words = where_words(PLACES[one.print.placement], [garment for _, garment in one.wearers])
    return Picture(
        data.getvalue(), f"{one.label}: {facts.width_mm:.0f} x {facts.height_mm:.0f} mm, {words}", "image/jpeg"
    )


def _film_picture(printed: U8) -> bytes:
    """Return a film's image, black on white, small."""
    step = max(1, -(-max(printed.shape) // FILM_PX))
    small = Image.fromarray(printed).reduce(step) if step > 1 else Image.fromarray(printed)
    data = io.BytesIO()
    ImageOps.invert(small).quantize(16).save(data, "PNG", optimize=True)
    return data.getvalue()
