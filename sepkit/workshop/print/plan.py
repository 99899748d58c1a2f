"""From artwork, garment and press to a Separation: every plate decided, nothing written yet.

In: PrintOptions (paths and names as the person gave them). Out: PlannedPrint. Reads the art and recipes/.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.errors import ArtworkError
from sepkit.model import Artwork, FlatSeparation, Garment, Ink, Plate, Press, Separation
from sepkit.plates.coats import CoatChoice
from sepkit.plates.rounds import Rounds
from sepkit.press.fit import FitItem, print_findings
from sepkit.workshop.print.findings import art_findings, plan_findings
from sepkit.workshop.print.options import PrintOptions, base_rules_of, ink_request, place_of
from sepkit.workshop.print.overprint_look import implied_request
from sepkit.workshop.print.overprints import SavedInk, decide_print

if TYPE_CHECKING:
    from sepkit.model import Progress


@dataclass(frozen=True, slots=True, eq=False)
class PlannedPrint:
    """A separation with the inks that print it (one per plate, same order) and how each was decided."""

    options: PrintOptions
    press: Press
    flat: FlatSeparation
    separation: Separation
    inks: tuple[Ink, ...]
    choices: dict[str, CoatChoice]
    rounds: Rounds
    order_why: str
    overprints: tuple[SavedInk, ...] = ()
    """Colours of the art that two inks print over each other."""
    without_overprints: tuple[int, int] | None = None
    """Screens and flashes that the print would take without them."""


OPAQUE = 250
SAME_COLOUR = 24
"""sRGB steps within which a pixel has the background's colour: the noise of a strongly compressed picture."""

Look = Callable[[tuple[Plate, ...], tuple[Ink, ...], Garment, Artwork], tuple[float, float]]
"""Predicts a print and returns mean and p95 ΔE00 against the art."""


def plan_print(options: PrintOptions, *, look: Look, progress: Progress | None = None) -> PlannedPrint:
    """Read the art, separate it, and decide base, coats, traps, order, mesh and halftone.

    Raises ArtworkError, NotFoundError or UsageError with one clear line.
    """
    from sepkit.files.art.artwork import read_artwork
    from sepkit.files.shelf.pressfile import measured_of
    from sepkit.files.shelf.recipes import find_garment, find_press
    from sepkit.separation.background import art_without, without_background
    from sepkit.separation.separate import separate

    garment = find_garment(options.garment)
    press = find_press(options.press)
    request = ink_request(options.inks)
    base_rules_of(options.base)
    _tell(progress, "reading the art", 0, 1)
    art = read_artwork(options.art, width_mm=options.width_mm, height_mm=options.height_mm, film_dpi=options.film_dpi)
    place = place_of(options, garment, (art.width_mm, art.height_mm))
    _tell(progress, "separating", 0, 1)
    wanted = implied_request(request, garment, options)
    flat = separate(art, garment.srgb, wanted, soft=options.soft, on_step=progress)
    if wanted is not request and any(area.tone is not None for area in flat.areas):
        flat = separate(art, garment.srgb, request, soft=options.soft, on_step=progress)  # tones mix by their dots
    if options.background == "drop":
        whole, flat = flat, without_background(flat)
        art = art_without(art, whole, flat) if flat is not whole else without_open_border(art, flat)
    areas = tuple(area for area in flat.areas if area.coverage.any())
    if not areas:
        raise ArtworkError(
            f"nothing to print on {garment.name}",
            where=art.source,
            hint="all of the art is transparent or has the garment's colour; choose another garment",
        )
    _check_screens(len(areas), art)
    _tell(progress, "deciding base, coats and order", 0, 1)
    decided = decide_print(areas, art, garment, press, options)
    _check_screens(len(decided.plates), art)
    mean, p95 = look(decided.plates, decided.inks, garment, art)
    findings = (
        *art_findings(art),
        *flat.findings,
        *print_findings(FitItem("the print", place, art.width_mm, art.height_mm, sizes=options.sizes), garment, press),
        *plan_findings(
            art, garment, press, decided, tolerance_de00=options.tolerance_de00, measured=measured_of(press.name)
        ),
    )
    separation = Separation(art, garment, decided.plates, mean, p95, findings)
    return PlannedPrint(
        options,
        press,
        flat,
        separation,
        decided.inks,
        decided.choices,
        decided.rounds,
        decided.order_why,
        decided.overprints,
        decided.without_overprints,
    )


def without_open_border(art: Artwork, flat: FlatSeparation) -> Artwork:
    """Return the art transparent where its background is left open already because the cloth is near to it.

    That is what has the colour of the picture's border, carries no ink, and hangs together with the border: prints are
    not held against a background that was to be dropped.
    """
    import numpy as np
    from scipy.ndimage import label

    from sepkit.separation.background import BORDER_SHARE

    edges = np.zeros(art.alpha.shape, bool)
    edges[[0, -1]] = edges[:, [0, -1]] = True
    if (art.alpha[edges] < OPAQUE).mean() > 1 - BORDER_SHARE:
        return art
    colour = np.median(art.rgb[edges], axis=0).astype(np.int16)
    bare = np.abs(art.rgb.astype(np.int16) - colour).max(axis=2) <= SAME_COLOUR
    for area in flat.areas:
        bare &= area.coverage == 0
    parts, count = label(bare)
    outside = np.zeros(count + 1, bool)
    outside[parts[edges]] = True
    outside[0] = False
    return replace(art, alpha=np.where(outside[parts], np.uint8(0), art.alpha))


def _check_screens(count: int, art: Artwork) -> None:
    from sepkit.preview.stack import MOST_PLATES

    if count > MOST_PLATES:
        raise ArtworkError(
            f"needs {count} screens, more than the {MOST_PLATES} that can be planned",
            where=art.source,
            hint="give --inks 6, or art of fewer colours",
        )


def _tell(progress: Progress | None, stage: str, done: int, total: int) -> None:
    if progress is not None:
        progress.step(stage, done, total)
