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
    from sepkit.workshop.drop.facts import PrintFacts
    from sepkit.workshop.drop.recipes import CupRecipe

FAR_DE00 = 3.0
"""A blend farther from its colour than this is told."""


def order_findings(order: Order) -> list[Finding]:
    """Tell of blades that lack, of garments loaded again, and of an order that may not be the best."""
    out = blade_findings(order)
    if order.tally.reloads:
        out.append(
            Finding(
                "reloads",
                "warn",
                f"{order.tally.reloads} garments must be taken off and loaded again in register: more screens "
                "than heads",
                "use fewer inks in that print, or let the garment's colour stand for one",
            )
        )
    if not order.exact:
        out.append(Finding("order-not-proven", "info", "the order at the press is good, but not proven to be the best"))
    return out


def blade_findings(order: Order) -> list[Finding]:
    """Tell where one print needs more blades of a width at once than are owned."""
    short: dict[tuple[str, float], tuple[int, int]] = {}
    for step in order.steps:
        for width, owned in {(pull.blade_mm, pull.blades) for pull in step.run.pulls}:
            inks = {pull.ink for pull in step.run.pulls if pull.blade_mm == width}
            if len(inks) > owned:
                short[step.run.print_name, width] = (len(inks), owned)
    return [
        Finding(
            "too-few-blades",
            "warn",
            f"{name} takes {needed} inks in turn with a {width:.0f} mm blade, and {counted(owned, 'such blade')} "
            f"{'is' if owned == 1 else 'are'} there",
            "one for each ink: else it is washed at every garment",
        )
        for (name, width), (needed, owned) in short.items()
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
            finding.code, finding.level, f"{facts.print.label}: {colours_called(finding.text)}", _as_keys(finding.hint)
        )
        for facts in prints
        for finding in facts.findings
        if finding.code != "more-screens-than-heads"
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
