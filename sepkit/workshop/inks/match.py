"""A colour in, recipes in grams out: which inks, how near, how it prints on the garment.

In: a colour as a person writes it, or a list of colours; inks, batch and scale. Out: for each target its recipes, best
first, each also as it will be weighed; the best one on the garment; let-down pastes; a kept recipe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.errors import UsageError
from sepkit.files.shelf.colours import parse_colour, read_colours
from sepkit.inks.bands import mixed_band_de00
from sepkit.inks.doses import Dose, LetDown, check_batch, let_downs, weigh_out, weighing_findings
from sepkit.inks.layers import film
from sepkit.inks.looks import Look, look_of, printed_look
from sepkit.inks.match import Blend, InkSet, Target, View, match, seen
from sepkit.inks.mixing import mix
from sepkit.model import Finding
from sepkit.workshop.inks import SCALE_STEP_G
from sepkit.workshop.inks.keep import KeptInk, RecipeNotes, keep, recipe_file
from sepkit.workshop.inks.lookup import chosen_inks

if TYPE_CHECKING:
    from sepkit.files.shelf.colours import Colour
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import Garment, Ink

LIST_ENDINGS = {".csv", ".cxf", ".xml", ".txt"}
PRINTS = ((1.0, False), (2.0, False), (1.0, True), (2.0, True))
"""Coats, and whether one of white lies below, that are shown of a recipe on its garment."""


@dataclass(frozen=True, slots=True)
class AsPrinted:
    """Aim at the print on the garment, not at the opaque film: coats (0.25..6), and one of white below or not."""

    coats: float = 1.0
    base: bool = False


@dataclass(frozen=True, slots=True)
class MatchRequest:
    """A colour or a list of colours, and what recipes may be made of: ``inks`` None takes all that are not mixed."""

    target: str
    garment: str | None = None
    inks: tuple[str, ...] | None = None
    most_inks: int = 3
    batch_g: float = 500.0
    step_g: float = SCALE_STEP_G
    as_printed: AsPrinted | None = None
    tolerance_de00: float = 2.0
    """ΔE00 up to which a target counts as reached."""
    recipes: int = 5
    """Recipes wanted for each target."""


@dataclass(frozen=True, slots=True, eq=False)
class MatchedRecipe:
    """A recipe in doses, and its look as it will be weighed (``rounded_de00`` from the target)."""

    blend: Blend
    doses: tuple[Dose, ...]
    look: Look
    rounded_de00: float


@dataclass(frozen=True, slots=True)
class PrintLook:
    """The best recipe on the garment; ΔE00 from the target to 0.001."""

    garment: str
    coats: float
    base: bool
    look: Look
    de00: float


@dataclass(frozen=True, slots=True, eq=False)
class MatchedTarget:
    """One target: its recipes, best first; the best one's pastes and prints; what to know."""

    target: Target
    as_printed: bool
    recipes: tuple[MatchedRecipe, ...]
    let_downs: tuple[LetDown, ...]
    prints: tuple[PrintLook, ...]
    findings: tuple[Finding, ...]
    tolerance_de00: float

    @property
    def best(self) -> MatchedRecipe:
        """The recipe to take."""
        return self.recipes[0]

    @property
    def reached_exactly(self) -> bool:
        """Whether the best recipe comes near enough before it is rounded to the scale."""
        return self.best.blend.de00 <= self.tolerance_de00

    @property
    def reached(self) -> bool:
        """Whether the best recipe comes near enough, exact or as it will be weighed."""
        return self.reached_exactly or self.best.rounded_de00 <= self.tolerance_de00


@dataclass(frozen=True, slots=True, eq=False)
class Matched:
    """All targets in their order, and the recipe that was kept."""

    targets: tuple[MatchedTarget, ...]
    kept: KeptInk | None

    @property
    def missed(self) -> tuple[MatchedTarget, ...]:
        """Targets that no recipe reaches, the farthest first."""
        return tuple(sorted((t for t in self.targets if not t.reached), key=lambda t: -t.best.blend.de00))


def find_recipes(request: MatchRequest, shelf: Shelf, *, save_as: str | None = None, force: bool = False) -> Matched:
    """Return recipes for a colour or a list of colours; keep the best one of a single colour as an ink ``save_as``.

    Raises UsageError, NotFoundError, or WriteError when the ink file exists and ``force`` is False.
    """
    check_batch(request.batch_g, request.step_g)
    colours = _colours(request.target)
    if save_as is not None and len(colours) > 1:
        raise UsageError("a list gives many recipes", where="--save", hint="match one entry, as list.csv@NAME")
    garment = None if request.garment is None else shelf.garment(request.garment)
    inks = chosen_inks(request.inks, shelf)
    ink_set = InkSet(inks, most=request.most_inks, view=_view(request.as_printed, garment, shelf))
    found = tuple(_matched(colour, ink_set, request, shelf) for colour in colours)
    kept = None
    if save_as is not None:
        notes = RecipeNotes(target=found[0].target)
        kept = keep(recipe_file(save_as, found[0].best.doses, notes), force=force)
    return Matched(found, kept)


def _colours(text: str) -> list[Colour]:
    """Return the colours of a whole list, or the one that ``text`` writes."""
    path = Path(text)
    whole_list = path.suffix.lower() in LIST_ENDINGS and "@" not in path.name
    return read_colours(path) if whole_list else [parse_colour(text)]


def _view(as_printed: AsPrinted | None, garment: Garment | None, shelf: Shelf) -> View:
    if as_printed is None:
        return View()
    if garment is None:
        raise UsageError(
            "a print needs its garment", where="--as-printed", hint='add --on "black tee" or --on "#1a1a1c"'
        )
    if not as_printed.base:
        return View(cloth=garment.reflectance, coats=as_printed.coats)
    white = shelf.ink("white")
    base = film(white.absorption, white.scattering)
    return View(cloth=garment.reflectance, coats=as_printed.coats, base=base, base_coats=1.0)


def _matched(colour: Colour, ink_set: InkSet, request: MatchRequest, shelf: Shelf) -> MatchedTarget:
    blends = match(ink_set, colour.target, keep=request.recipes)
    recipes = tuple(_recipe(blend, ink_set.view, colour.target, request) for blend in blends)
    doses = recipes[0].doses
    pastes = let_downs(doses, request.step_g)
    findings = (*colour.findings, *weighing_findings(doses, request.step_g), *_how_sure(doses))
    prints = () if request.garment is None else tuple(_prints(doses, colour.target, request.garment, shelf))
    return MatchedTarget(
        target=colour.target,
        as_printed=request.as_printed is not None,
        recipes=recipes,
        let_downs=pastes,
        prints=prints,
        findings=findings,
        tolerance_de00=request.tolerance_de00,
    )


def _recipe(blend: Blend, view: View, target: Target, request: MatchRequest) -> MatchedRecipe:
    shares = [(ink, float(share)) for ink, share in zip(blend.inks, blend.mass_shares, strict=True)]
    doses = weigh_out(shares, request.batch_g, request.step_g)
    ink = _stirred(doses)
    look = look_of(seen(ink.absorption, ink.scattering, view))
    return MatchedRecipe(blend, doses, look, _off(look, target))


def _prints(doses: Sequence[Dose], target: Target, garment_name: str, shelf: Shelf) -> Iterator[PrintLook]:
    """Yield the look of what will be weighed on the garment by coats, without and with a white base."""
    garment, white, ink = shelf.garment(garment_name), shelf.ink("white"), _stirred(doses)
    for coats, base in PRINTS:
        look = printed_look([(white, 1.0), (ink, coats)] if base else [(ink, coats)], garment.reflectance)
        yield PrintLook(garment.name, coats, base, look, round(_off(look, target), 3))


def _stirred(doses: Sequence[Dose]) -> Ink:
    return mix([(dose.ink, dose.mass_g) for dose in doses])


def _off(look: Look, target: Target) -> float:
    return float(delta_e_2000(np.array(look.lab), target.lab))


def _how_sure(doses: Sequence[Dose]) -> list[Finding]:
    """Tell how near nine of ten batches come to what is predicted, and which inks are estimates."""
    used = [(dose.ink, dose.mass_g) for dose in doses if dose.mass_g > 0]
    names = [ink.name for ink, _ in used if ink.status == "estimated"]
    near = f"nine of ten batches come within ΔE00 {mixed_band_de00(used):.0f}"
    if not names:
        return [Finding("mix-band", "info", near, "print a test before the run")]
    verb = "is" if len(names) == 1 else "are"
    text = f"{', '.join(names)} {verb} estimated: {near}"
    return [Finding("ink-estimated", "info", text, 'print a test and repair it with "sepkit ink correct"')]
