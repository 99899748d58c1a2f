"""What the person asked for one print, in their own words, and what those words mean.

In: PrintOptions and a Shelf. Out: wishes as parsed values, and the bench that a print is decided on: made once here, at
the door. Nothing below looks up a name.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.decisions import TOLERANCE_DE00, BaseRules, PrintEdits, Wishes
from sepkit.errors import UsageError
from sepkit.files.edits import read_edits
from sepkit.inks.transparent import is_process
from sepkit.model import (
    BASE_RULES,
    BackgroundRule,
    BaseRule,
    DotsRule,
    EdgeRule,
    InkRequest,
    KindRule,
    OneInkFrom,
    SeparateBy,
    ShadingRule,
    SoftRule,
    WhiteScreens,
)
from sepkit.places import is_on, place_named, usual_place
from sepkit.plates.bench import BASE_INK, WHITE_CLOTH, Bench
from sepkit.units import parse_hex
from sepkit.workshop.inks.lookup import owned_ink

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.shelf.shop import Shop
    from sepkit.model import DotShape, Garment, Press, Size
    from sepkit.places import Place

DEFAULT_PRESS = "two-head"
USUAL_FILM_DPI = 720.0
MOST_INKS = 12
ALL_INKS = "all"


@dataclass(frozen=True, slots=True)
class PrintOptions:
    """What the person asked for one print on one garment; None takes the default of press and garment."""

    art: Path
    garment: str
    width_mm: float | None = None
    height_mm: float | None = None
    inks: str = "auto"
    by: SeparateBy = "auto"
    """By what the art is parted; auto: by the inks that a PDF names, unless others are asked for, else by colour."""
    kind: KindRule = "auto"
    """What the art is taken for."""
    one_ink: str = ""
    """The one ink to print all in, a shelf ink or #rrggbb; empty: the art's colours are separated."""
    one_ink_from: OneInkFrom = "auto"
    shading: ShadingRule = "open"
    """What becomes of pencil shading in a drawing on paper."""
    screens: int | None = None
    """No more screens than these; None: as many as are worth it."""
    press: str | None = None
    """None: the shop's, else the two-head press."""
    trap_mm: float | None = None
    overprint_mm: float = 0.0
    """Dark lines up to this width print over the lighter inks beside them; 0 knocks all out."""
    overprint_colours: bool = False
    """Whether two transparent inks printed one over the other may stand for a third."""
    choke_mm: float | None = None
    film_dpi: float = USUAL_FILM_DPI
    edge_growth_um: float | None = None
    """How far a printed edge grows, as a job says it; None takes what was measured on the press."""
    soft: SoftRule = "tone"
    edges: EdgeRule = "smooth"
    """Whether coarse flat art is drawn again with smooth outlines, or printed as it was drawn."""
    background: BackgroundRule = "print"
    """What becomes of a colour that fills the picture to its border."""
    dots: DotsRule = "average"
    """What becomes of printed dots, where the art is a scan of print."""
    base: tuple[str, ...] = ()
    tolerance_de00: float = TOLERANCE_DE00
    mesh: str | None = None
    lpi: float | None = None
    angle_deg: float | None = None
    shape: DotShape = "ellipse"
    placement: str | None = None
    """A name in places.PLACES, or another name of one; None: the usual place for its size."""
    explain: bool = False
    """Also write explain.png: the art with the places ringed that no ink explains."""
    white_screens: WhiteScreens = "auto"
    """Whether a white that is both seen and base is one screen hit twice, or two; auto: one where it saves a round."""
    highlight: bool = False
    """Print seen white last, as a screen of its own on the base."""
    light_base: bool = False
    """Thin the base to a tint under inks that need less of it."""
    sizes: tuple[str, ...] = ()
    """Garment sizes of the run: the smallest and the largest are shown side by side."""
    edits: Path | None = None
    """An edits file: changes by hand, applied between separating and deciding."""
    ladder: bool = True
    """With --inks auto: what fewer inks would cost in colour."""
    may_turn_90: bool = False
    """The garment can be loaded sideways for it."""
    check_discs: bool = False
    """Films carry rows of check discs beside the art, by which a photograph tells register."""


def bench_of(options: PrintOptions, shelf: Shelf) -> Bench:
    """Return the bench of a print: garment, press, base ink and wishes, looked up once.

    Raises NotFoundError for a name that the shelf does not hold, UsageError for words that mean nothing.
    """
    shop = shelf.shop()
    press = _press(options, shelf, shop)
    names = [name for name in shelf.ink_names() if shop is None or shop.owns(name)]
    inks = [owned_ink(shelf, shop, name) for name in names if shelf.recipe(name) is None]
    return Bench(
        garment=shelf.garment(options.garment),
        press=press,
        base_ink=owned_ink(shelf, shop, BASE_INK),
        white_cloth=shelf.garment(WHITE_CLOTH).reflectance,
        ink=partial(owned_ink, shelf, shop),
        wishes=wishes_of(options, shelf),
        edits=PrintEdits() if options.edits is None else read_edits(options.edits, shelf),
        frames=() if shop is None else shop.frames,
        may_turn=options.may_turn_90,
        measured={**shelf.measured(press.name), **({} if shop is None else shop.measured)},
        shelf=tuple(ink for ink in inks if not is_process(ink)),
        process=tuple(ink for ink in inks if is_process(ink)),
    )


def _press(options: PrintOptions, shelf: Shelf, shop: Shop | None) -> Press:
    """Return the press as asked, else the shop's with its register error, else the usual one."""
    if options.press is not None or shop is None:
        return shelf.press(options.press or DEFAULT_PRESS)
    known = shop.as_job()["press"]
    del known["name"]
    return replace(shelf.press(shop.press), **known)


def wishes_of(options: PrintOptions, shelf: Shelf) -> Wishes:
    """Return what the options wish, as values."""
    return Wishes(
        inks=one_ink_request(options, shelf) if options.one_ink else ink_request(options.inks, shelf),
        all_inks=options.inks.strip().lower() == ALL_INKS,
        most_screens=options.screens,
        base=base_rules_of(options.base),
        trap_mm=options.trap_mm,
        choke_mm=options.choke_mm,
        overprint_mm=options.overprint_mm,
        overprint_colours=options.overprint_colours,
        tolerance_de00=options.tolerance_de00,
        white_screens=options.white_screens,
        highlight=options.highlight,
        light_base=options.light_base,
        mesh=None if options.mesh is None else shelf.mesh(options.mesh),
        lpi=options.lpi,
        angle_deg=options.angle_deg,
        shape=options.shape,
    )


def parted_by(options: PrintOptions) -> SeparateBy:
    """Return by what the art is parted. Raises UsageError for inks asked of art that brings its own plates."""
    asked = options.inks.strip().lower() != "auto"
    if options.by in ("plate", "layer") and asked:
        raise UsageError(
            f"--by {options.by} prints the plates of the art",
            where="--inks",
            hint="leave --inks out; name plates as the shelf's inks are named, or part it --by colour",
        )
    return "colour" if asked or options.one_ink or options.kind != "auto" else options.by


def place_of(options: PrintOptions, garment: Garment, size: Size) -> Place:
    """Return where a print of this size goes: as asked, else where it usually does.

    Raises UsageError for a place that there is not, or not on this garment.
    """
    if options.placement is None:
        return usual_place(size.width_mm, size.height_mm)
    place = place_named(options.placement)
    if not is_on(place, garment):
        raise UsageError(
            f"{garment.name} has no hood", where="--placement", hint="choose another place, or a garment with a hood"
        )
    return place


def ink_request(text: str, shelf: Shelf) -> InkRequest:
    """Return what ``--inks`` asks: "auto" or "all", a count, or a comma list of shelf names and ``#hex``.

    Raises UsageError or NotFoundError.
    """
    word = text.strip().lower()
    if word in ("auto", ALL_INKS):
        return InkRequest()
    if word.isdigit():
        if not 1 <= int(word) <= MOST_INKS:
            raise UsageError(f"{word} inks", where="--inks", hint=f"give 1 to {MOST_INKS}, or auto")
        return InkRequest(count=int(word))
    named: list[tuple[str, tuple[int, int, int]]] = []
    for part in (piece.strip() for piece in text.split(",")):
        if not part:
            continue
        rgb = parse_hex(part, what="--inks") if part.startswith("#") else shelf.ink(part).srgb
        if any(label == part for label, _ in named):
            raise UsageError(f'"{part}" is given twice', where="--inks", hint="name each ink once")
        named.append((part, rgb))
    if not 1 <= len(named) <= MOST_INKS:
        raise UsageError(
            f"{len(named)} inks", where="--inks", hint=f"give 1 to {MOST_INKS} names or #hex, separated by commas"
        )
    return InkRequest(named=tuple(named))


def one_ink_request(options: PrintOptions, shelf: Shelf) -> InkRequest:
    """Return the request for the one ink. Raises UsageError when it is a list, or inks are asked for beside it."""
    if options.inks.strip().lower() != "auto":
        raise UsageError("give the one ink or a list of inks, not both", where="--one-ink", hint="leave out --inks")
    request = ink_request(options.one_ink, shelf)
    if len(request.named) != 1:
        raise UsageError(f'"{options.one_ink}"', where="--one-ink", hint="name one ink of the shelf, or #rrggbb")
    return request


def base_rules_of(given: tuple[str, ...]) -> BaseRules:
    """Return the rule for all inks and the rules for single inks from ``auto``, ``never``, ``INK=always``."""
    every: BaseRule = "auto"
    single: dict[str, BaseRule] = {}
    for text in given:
        name, _, word = text.rpartition("=")
        found = next((rule for rule in BASE_RULES if rule == word.strip().lower()), None)
        if found is None:
            raise UsageError(f'"{text}"', where="--base", hint="write auto, always, never, or INK=always")
        if not name:
            every = found
            continue
        key = name.strip().lower()
        if single.setdefault(key, found) != found:
            raise UsageError(
                f'"{name}" is told two different things', where="--base", hint="give one rule for each ink"
            )
    return BaseRules(every, single)
