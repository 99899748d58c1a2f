"""What a job tells the printer beside its numbers: order and time at the press, recipes, and what each print found.

In: parts of a JobPlan. Out: Findings.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colour_word, colours_called
from sepkit.model import Finding
from sepkit.press.minutes import LONG_DAY_MIN
from sepkit.sheets.words import counted, is_mixed
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from sepkit.press.sequence import Order
    from sepkit.press.staging import WayOut
    from sepkit.workshop.drop.facts import PrintFacts
    from sepkit.workshop.drop.recipes import CupRecipe
    from sepkit.workshop.drop.runs import ShortBlades
    from sepkit.workshop.drop.sharing import SharedFilm
    from sepkit.workshop.drop.ways import WaysOut

FAR_DE00 = 3.0
"""A blend farther from its colour than this is told."""


def order_findings(order: Order) -> list[Finding]:
    """Tell of an order that may not be the best, and by how much at most."""
    if order.exact:
        return []
    return [
        Finding(
            "order-not-proven",
            "info",
            f"the order at the press changes over in {order.tally.minutes:.0f} min; none takes less than "
            f"{order.least_min:.0f} min",
            "a better one may exist between the two",
        )
    ]


def way_findings(ways: Sequence[WaysOut]) -> list[Finding]:
    """Tell of prints that no run can print as they are asked for, the way that is taken, and the others."""
    out = []
    for one in ways:
        others = "; ".join(_way_words(way) for way in one.ways if way.way != one.taken and way.possible)
        head = f"{one.label}: {one.screens} screens that touch on {counted(one.heads, 'head')}"
        mine = next((way for way in one.ways if way.way == one.taken), None)
        if mine is None:
            out.append(
                Finding("no-way", "error", f"{head} cannot be printed as a run", others or "give it fewer colours")
            )
            continue
        why = "" if one.taken == "batches" else " cannot be printed as a run"
        text = f"{head}{why}; planned: {one.taken}, {mine.words}"
        out.append(Finding("beyond-heads", "warn", text, f'other ways, with way = "..." in [[print]]: {others}'))
    return out


def _way_words(way: WayOut) -> str:
    minutes = f", {way.minutes:.0f} min more" if way.minutes else ""
    return f"{way.way} ({way.words}{minutes}{f', {way.money:.0f} in all' if way.money else ''})"


def sharing_findings(shared: Sequence[SharedFilm]) -> list[Finding]:
    """Tell what films cost that garments share."""
    return [
        Finding("film-shared", "info", one.words, "screens_apart = true burns films of its own for each cloth")
        for one in shared
    ]


def blade_findings(short: Sequence[ShortBlades]) -> list[Finding]:
    """Tell where one print needs more blades of a width at once than are owned: the plan counts them as bought."""
    most: dict[float, ShortBlades] = {}
    for one in short:
        if one.width_mm not in most or one.needed > most[one.width_mm].needed:
            most[one.width_mm] = one
    return [
        Finding(
            "too-few-blades",
            "warn",
            f"{one.print_name} takes {one.needed} inks in turn with a {one.width_mm:.0f} mm blade, and "
            f"{counted(one.owned, 'such blade')} {'is' if one.owned == 1 else 'are'} there",
            f"buy {one.needed - one.owned} more, one for each ink: the plan counts them as there",
        )
        for one in most.values()
    ]


def time_findings(printing_min: float) -> list[Finding]:
    """Tell of more printing than a day holds."""
    if printing_min <= LONG_DAY_MIN:
        return []
    days = -(-printing_min // LONG_DAY_MIN)
    return [
        Finding("long-day", "warn", f"printing takes {printing_min / 60:.1f} hours", f"spread it over {days:.0f} days")
    ]


def heat_findings(closings: Sequence[tuple[PrintFacts, int]]) -> list[Finding]:
    """Tell of prints that the heat press covers in several closings; how many each takes stands beside it."""
    return [
        Finding(
            "several-presses",
            "info",
            f"{facts.print.label}: {count} closings of the heat press for {facts.width_mm:.0f} x "
            f"{facts.height_mm:.0f} mm",
            "let them overlap, and check the cure where they do",
        )
        for facts, count in closings
        if count > 1
    ]


def recipe_findings(recipes: Mapping[str, CupRecipe], *, scale_step_g: float) -> list[Finding]:
    """Tell of doses that the scale cannot weigh, then of colours that no blend of the shelf reaches."""
    small = [
        Finding(
            "small-dose",
            "warn",
            f"{colours_called(name)}: a dose is too small for a scale of {scale_step_g:g} g",
            "make a let-down of the strong ink first, or more of the ink, or use a finer scale",
        )
        for name, recipe in recipes.items()
        if not recipe.fine
    ]
    far = [
        Finding(
            "colour-out-of-reach",
            "warn",
            f"{colours_called(name)}: the nearest blend of the shelf is ΔE00 {recipe.de00:.1f} away",
            "add an ink to the shelf, or accept the shift",
        )
        for name, recipe in recipes.items()
        if recipe.de00 > FAR_DE00 and not _is_black(name)
    ]
    return small + far


def print_findings(prints: Sequence[PrintFacts]) -> list[Finding]:
    """Return what was found in each print, with the print's name before it."""
    # Heads are those of the job's press, which may differ from the shelf's: the order tells of reloads.
    return [
        Finding(
            finding.code,
            finding.level,
            f"{facts.print.label}: {colours_called(finding.text)}",
            _as_keys(finding.hint),
            more=finding.more,
        )
        for facts in prints
        for finding in facts.findings
        if finding.code not in ("more-screens-than-heads", "fewer-inks")
    ]


def _is_black(ink: str) -> bool:
    """Tell whether an ink named by a colour is black: the shelf's black is what a printer takes, however far it is."""
    return is_mixed(ink) and colour_word(parse_hex(ink)) == "black"


def _as_keys(hint: str) -> str:
    """Return a hint with the options of `sepkit separate` as the keys of a job file that do the same.

    >>> _as_keys("if it is only background: --background drop leaves it open")
    'if it is only background: background = "drop" leaves it open'
    >>> _as_keys('--inks "#ffffff" leaves it open')
    'inks = "#ffffff" leaves it open'
    """
    return re.sub(r'--(background|edges|soft|inks) "?([^\s"]+)"?', r'\1 = "\2"', hint)
