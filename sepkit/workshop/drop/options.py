"""The options of one print of a job, as `sepkit separate` has them: one table makes the keys and the options alike.

In: a Job, a Print of it, the garment, the one ink. Out: PrintOptions.
"""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from sepkit.places import PLACES, is_on
from sepkit.workshop.print.options import PrintOptions

if TYPE_CHECKING:
    from sepkit.jobs import Job, Print
    from sepkit.model import Garment


def print_options(job: Job, one: Print, on: Garment, *, ink: str) -> PrintOptions:
    """Return the options of a print on a garment; ``ink`` is its one ink, or empty."""
    given: dict[str, Any] = {key.name: getattr(one, key.name) for key in fields(PrintOptions) if hasattr(one, key.name)}
    given |= {
        "garment": on.name,
        "one_ink": ink,
        "placement": one.placement if is_on(PLACES[one.placement], on) else None,
        "press": job.press.name,
        "film_dpi": job.film.dpi,
        "edge_growth_um": job.edge_growth_um,
        "sizes": (),
    }
    if ink:
        given["inks"] = "auto"
    return PrintOptions(**given)
