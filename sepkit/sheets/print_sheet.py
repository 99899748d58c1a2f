"""The sheet of one print: what it will look like, its screens, what to do at the press, and why it is so.

In: a Separation, what was decided for it, and pictures as PNG bytes. Out: a Sheet of blocks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.coverage.sums import mean_level, mean_share
from sepkit.press.cautions import cautions_for
from sepkit.press.minutes import USUAL_RUN
from sepkit.press.quantities import BEAD_CM2, CUP_LOSS_G, LEAST_CUSTOM_G, TEST_PULLS, grams_per_hit, round_up_g
from sepkit.sheets.blocks import (
    Bullets,
    Cautions,
    Cell,
    Column,
    FilmNote,
    Notes,
    Paragraph,
    Picture,
    Pictures,
    PressStep,
    Section,
    Sheet,
    Steps,
    Swatch,
    Swatches,
    Table,
)
from sepkit.sheets.words import amounts, counted, ink_name, ink_words, is_mixed, mesh_words
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice, CoatOption, Rounds
    from sepkit.model import Finding, Halftone, Plate, Separation
    from sepkit.sheets.blocks import Layout, Page, Row

BLADE_OVER_CM = 4.0
"""A blade is wider than the print (trade study, 13 to 25 mm on each side)."""
ROOMY_SCREENS = 7
"""Screens up to which the pictures have their full height on the first page."""
LARGE_STEPS, FULL_STEPS = 9, 16
"""Lines of steps that stand on a page in large type, and in smaller; more are set smallest."""
FILMS_SEEN = "films-seen"
"""The finding that tells how films of tonal art look from a metre: it stands first."""
WORST_TOLD = 3
"""Findings on paper; the others are folded behind it."""
FIRST_PICTURES = {
    "preview.png": "Predicted print at its place and size",
    "choices.png": "How many screens: what each choice takes and loses",
}
LAST_PICTURES = {
    "compare.png": "Artwork, predicted print, and where they differ",
    "stress.png": "Out of register: what shows without and with trap and choke",
    "ladder.png": "What fewer inks would cost",
    "sizes.png": "On the smallest and the largest garment of the run",
}

_DIFFERENCE = (
    "ΔE00 below 1 is hardly seen, 3 is close, 5 is seen at once. It tells how far this ink plan is from the art, "
    "computed from inks and a cover of the cloth that are estimates. No print is as black as #000000: a black of the "
    "art comes out as dark as the ink. It is not a measurement of your print: one ink that you measure "
    "(sepkit ink measure) takes the place of its estimate."
)
_WAYS = (
    "ΔE00 from the ink's own colour, which is its thick film or one coat on white cloth, whichever is nearer: 0.0 says "
    "that it looks as it usually does, not that it was measured. To overrule: --base INK=always, --base INK=never, "
    "--tolerance."
)


def print_sheet(
    separation: Separation,
    *,
    choices: Mapping[str, CoatChoice],
    rounds: Rounds,
    order_why: str,
    pictures: Mapping[str, bytes],
    where: str = "",
) -> Sheet:
    """Return the sheet of a print.

    ``choices`` are by plate name, screens in ``rounds`` are indices of the plates, ``pictures`` are PNG bytes by file
    name: those of FIRST_PICTURES and LAST_PICTURES are shown where they are there; ``where`` tells where it is loaded.
    On paper it is two pages, whatever the print: pictures, screens and what is to be known; then what is done at the
    press. All else is folded behind them.
    """
    art, plates = separation.artwork, separation.plates
    flashes = any(plate.flash_after or plate.coats > 1 for plate in plates)
    ranked = sorted(separation.findings, key=lambda finding: finding.rank)
    seen = [finding for finding in ranked if finding.code == FILMS_SEEN]
    others = [finding for finding in ranked if finding.code != FILMS_SEEN]
    worst, rest = [*seen, *others[:WORST_TOLD]], others[WORST_TOLD:]
    sub = f"{art.width_mm:.1f} × {art.height_mm:.1f} mm · {counted(len(plates), 'screen')}"
    pictures_size: Layout = "pair" if len(plates) <= ROOMY_SCREENS else "pair low"
    steps = press_steps(plates, rounds)
    return Sheet(
        f"{art.source} on {separation.garment.name}",
        f"{sub} · {where}" if where else sub,
        (
            Section("", (*_pictures(pictures, FIRST_PICTURES, pictures_size), FilmNote())),
            Section("Screens in print order", (_screens(separation),)),
            Section("To know", (_notes([replace(one, more="") for one in worst]),)),
            Section("At the press", (Steps(steps, numbered=False),), at_press=True, page=_press_page(steps)),
            Section("Take care", (Cautions(tuple(cautions_for(flashes=flashes))),), at_press=True, page="press full"),
            Section(
                "More to know", (_notes([*rest, *(one for one in worst if one.more)]),) if rest else (), folded=True
            ),
            Section("Inks to be mixed", _unknown(separation), folded=True),
            Section("Rounds", _rounds(plates, rounds), folded=True),
            Section("Why so", (_reasons(plates), *_order(order_why)), folded=True),
            Section("How each ink could go", _ways(choices), folded=True),
            Section("What the figures say", _figures(separation), folded=True),
            Section("Before screens are exposed", _pictures(pictures, LAST_PICTURES, "full"), folded=True),
        ),
    )


def _press_page(steps: Sequence[PressStep]) -> Page:
    """Return the type in which so many steps stand on one page, with the cautions below them."""
    lines = sum(1 + len(step.lines) + bool(step.before) for step in steps)
    if lines <= LARGE_STEPS:
        return ""
    return "press full" if lines <= FULL_STEPS else "press fuller"


def press_steps(plates: Sequence[Plate], rounds: Rounds) -> tuple[PressStep, ...]:
    """Return the steps at the press in words, one for each screen among them."""
    films = (
        f"Print the {counted(len(plates), 'film')} at 100 %, all fed the same way; the scale bar must measure true.",
        "Expose with the film's ink side on the emulsion; wash out, dry, block pinholes, tape edges.",
    )
    steps = [PressStep("Films and screens", films)]
    for number, plate in enumerate(plates, 1):
        starts_round = number > 1 and plate.round != plates[number - 2].round
        change = (f"change screens for round {plate.round}", _after(rounds, plate.round - 1)) if starts_round else ()
        steps.append(PressStep(_screen_line(number, plate), (), change, plate.print_srgb))
    cure = "Cure the whole print by the ink's data sheet; wash-test the first one before the run."
    return (*steps, PressStep(cure, ()))


def _screen_line(number: int, plate: Plate) -> str:
    coats = "one coat" if plate.coats == 1 else f"{plate.coats} coats, flash between, garment not moved"
    flash = "; flash until touch-dry, let it cool" if plate.flash_after else ""
    ink = "its mix" if plate.ink.parts else ink_words(ink_name(plate))
    return f"Screen {number}, {plate.name}: {ink}, {coats}{flash}"


def _screens(separation: Separation) -> Table:
    plates = separation.plates
    columns = (
        Column("no."),
        Column("screen", "whole"),
        "ink",
        Column(f"for {USUAL_RUN}", "number"),
        Column("coats", "whole"),
        Column("mesh to start with", "whole"),
        Column("halftone"),
    )
    return Table(columns, tuple(_screen_row(plate, separation) for plate in plates))


def _screen_row(plate: Plate, separation: Separation) -> Row:
    name = ink_name(plate)
    mass_g = run_mass_g(separation, name)
    mixed = amounts([(part.ink, _weighed_g(part.mass_share * mass_g)) for part in plate.ink.parts])
    return (
        str(plate.order),
        Cell(plate.name, swatch=plate.print_srgb),
        f"mix {mixed}" if mixed else ink_words(name),
        f"{mass_g:.0f} g",
        f"{plate.coats}{', then flash' if plate.flash_after else ''}",
        mesh_words(plate.mesh),
        _dots(plate.halftone),
    )


def _reasons(plates: Sequence[Plate]) -> Table:
    """Return why each screen is there and goes on as it does."""
    columns = (Column("screen", "whole"), Column("coverage", "number"), "why", "flash after")
    return Table(
        columns,
        tuple(
            (plate.name, f"{mean_level(plate.printed) / 2.55:.1f} %", plate.why, plate.flash_why) for plate in plates
        ),
    )


def _figures(separation: Separation) -> tuple[Paragraph, ...]:
    words = (
        f"Predicted print against what these inks can be of the art on this cloth: ΔE00 {separation.mean_de00:.1f} on "
        f"average, {separation.p95_de00:.1f} or less on 95 % of it."
    )
    return Paragraph(words), Paragraph(_DIFFERENCE, small=True)


def _dots(halftone: Halftone | None) -> str:
    return "solid" if halftone is None else f"{halftone.lpi:g} lpi, {halftone.angle_deg:g}°, {halftone.shape}"


def _order(order_why: str) -> tuple[Paragraph, ...]:
    return (Paragraph(f"Order: {order_why}.", small=True),) if order_why else ()


def _unknown(separation: Separation) -> tuple[Paragraph | Swatches, ...]:
    """Return the inks without a recipe, each with the command that finds one."""
    unknown = [plate for plate in separation.plates if is_mixed(ink_name(plate)) and not plate.ink.parts]
    if not unknown:
        return ()
    on = separation.garment.name
    named = dict.fromkeys(ink_name(plate) for plate in unknown)
    swatches = tuple(
        Swatch(parse_hex(ink), _plates_of(ink, separation), f'sepkit ink match "{ink}" --on "{on}"') for ink in named
    )
    return Paragraph("Inks named by a colour are to be mixed; for recipes in grams:", small=True), Swatches(swatches)


def _plates_of(ink: str, separation: Separation) -> str:
    return ", ".join(plate.name for plate in separation.plates if ink_name(plate) == ink)


def _weighed_g(mass_g: float) -> float:
    return round(mass_g, 1) if mass_g < 100 else float(round(mass_g))


def run_mass_g(separation: Separation, ink: str) -> float:
    """Return the grams of an ink for a run of USUAL_RUN garments: prints, first pulls, what stays in the screen."""
    art = separation.artwork
    area_cm2 = art.width_mm * art.height_mm / 100
    total = 0.0
    for plate in separation.plates:
        if ink_name(plate) != ink:
            continue
        inked_cm2 = mean_share(plate.printed) * area_cm2
        hit = grams_per_hit(inked_cm2, plate.mesh, plate.ink.density_g_ml)
        total += hit * plate.coats * (USUAL_RUN + TEST_PULLS)
        total += BEAD_CM2 * (art.width_mm / 10 + BLADE_OVER_CM) * plate.ink.density_g_ml
    return round_up_g(max(total + CUP_LOSS_G, LEAST_CUSTOM_G))


def _rounds(plates: Sequence[Plate], rounds: Rounds) -> tuple[Table | Paragraph, ...]:
    """Return what goes on the press together; nothing when all screens do."""
    if len(rounds.rounds) < 2:
        return ()
    rows = tuple(
        (str(number), ", ".join(plates[i].name for i in screens), _after(rounds, number))
        for number, screens in enumerate(rounds.rounds, 1)
    )
    table = Table(("round", "screens", "then"), rows)
    parted = ", ".join(f"{plates[a].name} and {plates[b].name}" for a, b, _ in rounds.parted)
    return (table, Paragraph(f"Touch across rounds: {parted}.", small=True)) if parted else (table,)


def _after(rounds: Rounds, number: int) -> str:
    if number == len(rounds.rounds):
        return "cure"
    if rounds.reload_after(number):
        return "the garment may be taken off and loaded again: nothing of these screens touches what comes"
    return "leave the garment on the platen while the screens change"


def _notes(findings: Sequence[Finding]) -> Notes | Bullets:
    if not findings:
        return Bullets(("nothing stood out",))
    serious_first = sorted(findings, key=lambda finding: finding.rank)
    return Notes(tuple(replace(finding, text=colours_called(finding.text)) for finding in serious_first))


def _ways(choices: Mapping[str, CoatChoice]) -> tuple[Table | Paragraph, ...]:
    """Return a row for each ink: every way with its predicted colour and ΔE00, the chosen one in bold."""
    if not choices:
        return ()
    labels = tuple(dict.fromkeys(option.label for choice in choices.values() for option in choice.options))
    rows: tuple[Row, ...] = tuple(_ways_of(name, choice, labels) for name, choice in choices.items())
    return Table(("ink", *labels), rows), Paragraph(_WAYS, small=True)


def _ways_of(name: str, choice: CoatChoice, labels: Sequence[str]) -> Row:
    """Return the row of an ink; a way that was not open to it, as where its coats are wished, is a dash."""
    by_label = {option.label: option for option in choice.options}
    cells = [_way(by_label[at], chosen=at == choice.chosen.label) if at in by_label else Cell("–") for at in labels]
    return (name, *cells)


def _way(option: CoatOption, *, chosen: bool) -> Cell:
    return Cell(f"{option.de00:.1f}{', chosen' if chosen else ''}", swatch=option.srgb, strong=chosen)


def _pictures(pictures: Mapping[str, bytes], captions: Mapping[str, str], layout: Layout) -> tuple[Pictures, ...]:
    there = tuple(Picture(pictures[name], caption) for name, caption in captions.items() if name in pictures)
    return (Pictures(there, layout),) if there else ()
