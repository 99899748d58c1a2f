"""What the job sheet tells of a plan, and the pictures it shows.

In: a JobPlan, recipes, the drawings and films of its screens. Out: JobContent; the prints' previews are read from their
folders.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.places import PLACES
from sepkit.sheets.blocks import Picture
from sepkit.sheets.job_sheet import JobContent
from sepkit.sheets.words import where_words

if TYPE_CHECKING:
    from sepkit.model import Finding
    from sepkit.workshop.drop.facts import PrintFacts
    from sepkit.workshop.drop.plan import JobPlan
    from sepkit.workshop.drop.recipes import CupRecipe

PICTURE_PX = 640


def job_content(
    plan: JobPlan,
    *,
    recipes: Mapping[str, CupRecipe],
    screens: Sequence[tuple[bytes, str]],
    films: Sequence[tuple[str, str]],
    findings: Sequence[Finding],
) -> JobContent:
    """Return what the sheet tells.

    ``screens`` are PNG drawings of the screens with captions; ``films`` are (file, what it holds).
    """
    plates = [image.plate for facts in plan.prints for image in facts.images]
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
        prints=tuple(_print_picture(facts) for facts in plan.prints),
        screens=tuple(Picture(data, caption) for data, caption in screens),
        films=tuple(films),
        presses=plan.presses,
        flashes=any(plate.flash_after or plate.coats > 1 for plate in plates),
        fleece=any(garment.fleece for facts in plan.prints for _, garment in facts.print.wearers),
    )


def _print_picture(facts: PrintFacts) -> Picture:
    from PIL import Image

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
