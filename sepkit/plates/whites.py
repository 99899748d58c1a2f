"""White that is seen and white that is base: two screens, one screen hit twice, or a highlight printed last.

Rows in print order in, the rows that print out.
One screen for both saves a screen and a change of screens; the price is told: two coats of white lie under every colour
on the base, and seen white is printed before the colours, which may dirty it (common practice advises a thin base and
a separate white; with two heads one screen hit twice is the honest compromise).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import UsageError
from sepkit.model import Finding
from sepkit.plates.drafts import first

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice, CoatOption
    from sepkit.model import Press
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft

WORTH_SAYING_DE00 = 0.1
MOST_SHARED_COATS = 2


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """The rows that print, and what to tell about white."""

    rows: list[PlateDraft]
    findings: tuple[Finding, ...] = ()


def settle_whites(rows: list[PlateDraft], bench: Bench) -> Settled:
    """Return the rows with their whites as asked. Raises UsageError for wishes that contradict each other."""
    wishes = bench.wishes
    if wishes.highlight and wishes.white_screens == "one":
        raise UsageError(
            "a highlight is a second white screen",
            where="--highlight",
            hint="drop --highlight, or --white-screens one",
        )
    base = first(rows, lambda row: row.role == "underbase")
    seen = None if base is None else _seen_on_base(rows, base)
    if seen is None or base is None:
        return Settled(rows, (_no_highlight(base is not None),) if wishes.highlight else ())
    if wishes.highlight:
        return Settled(_with_highlight(rows, base, seen))
    toned = rows[base].tone is not None or rows[seen].tone is not None
    if wishes.white_screens == "one" and toned:
        raise UsageError(
            "white with tones cannot share the base's screen: its dots are not the base's dots",
            where="--white-screens",
            hint="leave it at auto, or print tones solid (--soft solid)",
        )
    saves = _rounds(len(rows) - 1, bench.press) < _rounds(len(rows), bench.press)
    if wishes.white_screens == "one" or (wishes.white_screens == "auto" and saves and not toned):
        return _shared(rows, base, seen)
    return Settled(rows)


def _seen_on_base(rows: Sequence[PlateDraft], base: int) -> int | None:
    """Return the place of the white that is seen on the base, where other inks are on it too."""
    ink = rows[base].ink.name
    seen = first(rows, lambda row: row.role == "colour" and row.ink.name == ink and row.based)
    others = [row for at, row in enumerate(rows) if at not in (base, seen)]
    return seen if any(row.based for row in others) else None


def _rounds(screens: int, press: Press) -> int:
    return -(-screens // press.heads)


def _with_highlight(rows: list[PlateDraft], base: int, seen: int) -> list[PlateDraft]:
    """Print the seen white last, as the art asks it: nothing covers it any more. Its trap goes to the base."""
    white, under = rows[seen], rows[base]
    last = replace(
        white,
        role="highlight",
        printed=white.coverage,
        trap_mm=0.0,
        why=f"highlight white, last and clean on the base; {white.why}",
    )
    wider = replace(under, printed=np.maximum(under.printed, white.printed))
    return [wider if at == base else row for at, row in enumerate(rows) if at != seen] + [last]


def _shared(rows: Sequence[PlateDraft], base: int, seen: int) -> Settled:
    """Put base and seen white on one screen, hit once for the base and once more for white to be seen.

    It is never hit a third time by itself: two coats are what a flash between carries (common practice).
    """
    under, white = rows[base], rows[seen]
    coats = min(under.coats + white.coats, MOST_SHARED_COATS)
    way = None if white.choice is None else _straight(white.choice, coats)
    one = replace(
        white if way is None else replace(white, print_srgb=way.srgb),
        printed=np.maximum(under.printed, white.printed),
        coats=coats,
        also_base=under.coverage,
        choke_mm=under.choke_mm,
        mesh=under.mesh,
        why=f"white that is seen and base of the others: one screen, {coats} coats",
    )
    rest, told = [], []
    for row in (row for at, row in enumerate(rows) if at not in (base, seen)):
        if row.choice is None or not row.based:
            rest.append(row)
            continue
        on_it, was, now = on_white(row, row.choice, coats)
        rest.append(on_it)
        if abs(now - was) >= WORTH_SAYING_DE00:
            told.append(f"{row.name} ΔE00 {was:.1f} to {now:.1f}")
    found = Finding(
        "white-screen-shared",
        "info",
        f"one screen prints base and white, hit {coats} times, flashed between",
        "cure well, wipe the colours' screens often; --white-screens two parts them",
        more="one screen less; the film under the colours is thicker, and seen white is printed before them"
        + (f" ({', '.join(told)})" if told else ""),
    )
    return Settled([one, *rest], (found,))


def _straight(choice: CoatChoice, coats: int) -> CoatOption | None:
    return next((way for way in choice.options if way.base_coats == 0 and way.coats == coats), None)


def on_white(row: PlateDraft, choice: CoatChoice, coats: int) -> tuple[PlateDraft, float, float]:
    """Return a row that goes on a white screen hit so often, and its ΔE00 before and now."""
    was, straight = choice.chosen, choice.options[0]
    thick = next((way for way in choice.options if way.base_coats == min(coats, 2)), was)
    why = f"on the white screen's {coats} coats: ΔE00 {thick.de00:.1f}, straight {straight.de00:.1f}"
    on_it = replace(row, choice=replace(choice, chosen=thick), print_srgb=thick.srgb, why=why)
    return on_it, was.de00, thick.de00


def _no_highlight(has_base: bool) -> Finding:
    return Finding(
        "no-highlight",
        "info",
        "no white is seen on a base: no highlight to print",
        "white alone is already a screen of its own" if not has_base else "name white among the inks (--inks)",
    )
