"""White that is seen and white that is base: two screens, one screen hit twice, or a highlight printed last.

In: drafts of plates (with their inks) before rounds are planned. Out: the drafts that print.
One screen for both saves a screen and a change of screens; the price is told: two coats of white lie under every colour
on the base, and seen white is printed before the colours, which may dirty it (common practice advises a thin base and
a separate white; with two heads one screen hit twice is the honest compromise).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from sepkit.errors import UsageError
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import Ink, Plate, Press
    from sepkit.plates.coats import CoatChoice
    from sepkit.workshop.print.options import PrintOptions

T = TypeVar("T")
WORTH_SAYING_DE00 = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """Plates with their inks, in print order, the way chosen for each ink, and what to tell about white."""

    plates: tuple[Plate, ...]
    inks: tuple[Ink, ...]
    choices: Mapping[str, CoatChoice]
    findings: tuple[Finding, ...] = ()


def settle_whites(draft: Draft, press: Press, options: PrintOptions) -> Draft:
    """Return the draft with its whites as asked. Raises UsageError for wishes that contradict each other."""
    if options.highlight and options.white_screens == "one":
        raise UsageError(
            "a highlight is a second white screen",
            where="--highlight",
            hint="drop --highlight, or --white-screens one",
        )
    base, seen = _base_and_seen(draft)
    if seen is None:
        if options.highlight:
            return replace(draft, findings=(_no_highlight(base is not None),))
        return draft
    if base is None:
        return draft
    if options.highlight:
        return _with_highlight(draft, base, seen)
    toned = any(plate.tone is not None for plate in draft.plates)
    if options.white_screens == "one" and toned:
        raise UsageError(
            "white with tones cannot share the base's screen: its dots are not the base's dots",
            where="--white-screens",
            hint="leave it at auto, or print tones solid (--soft solid)",
        )
    saves = _rounds(len(draft.plates) - 1, press) < _rounds(len(draft.plates), press)
    if options.white_screens == "one" or (options.white_screens == "auto" and saves and not toned):
        return _shared(draft, base, seen)
    return draft


def _base_and_seen(draft: Draft) -> tuple[int | None, int | None]:
    """Return the places of the base and of the white that is seen; seen only where it lies on the base."""
    base = next((k for k, plate in enumerate(draft.plates) if plate.role == "underbase"), None)
    if base is None:
        return None, None
    ink = draft.plates[base].ink
    white = (k for k, plate in enumerate(draft.plates) if plate.role == "colour" and plate.ink == ink)
    seen = next((k for k in white if draft.choices[draft.plates[k].name].chosen.base_coats), None)
    others = [p for k, p in enumerate(draft.plates) if k not in (base, seen)]
    if seen is not None and not any(draft.choices[p.name].chosen.base_coats for p in others):
        return base, None
    return base, seen


def _rounds(screens: int, press: Press) -> int:
    return -(-screens // press.heads)


def _with_highlight(draft: Draft, base: int, seen: int) -> Draft:
    """Print the seen white last, as the art asks it: nothing covers it any more. Its trap goes to the base."""
    white, under = draft.plates[seen], draft.plates[base]
    last = replace(
        white,
        role="highlight",
        printed=white.coverage,
        trap_mm=0.0,
        why=f"highlight white, last and clean on the base; {white.why}",
    )
    plates = list(draft.plates)
    plates[base] = replace(under, printed=np.maximum(under.printed, white.printed))
    return replace(
        draft,
        plates=(*_without(tuple(plates), seen), last),
        inks=(*_without(draft.inks, seen), draft.inks[seen]),
    )


def _shared(draft: Draft, base: int, seen: int) -> Draft:
    """Put base and seen white on one screen, hit once for the base and once more for white to be seen."""
    under, white = draft.plates[base], draft.plates[seen]
    coats = under.coats + white.coats
    plate = replace(
        white,
        order=1,
        coverage=white.coverage,
        printed=np.maximum(under.printed, white.printed),
        coats=coats,
        flash_after=True,
        also_base=under.coverage,
        choke_mm=under.choke_mm,
        mesh=under.mesh,
        why=f"white that is seen and base of the others: one screen, {coats} coats",
    )
    rest = [p for k, p in enumerate(draft.plates) if k not in (base, seen)]
    choices = dict(draft.choices)
    told = []
    for at, other in enumerate(rest):
        choice = choices[other.name]
        if not choice.chosen.base_coats:
            continue
        thick = next((o for o in choice.options if o.base_coats == min(coats, 2)), choice.chosen)
        choices[other.name] = replace(choice, chosen=thick)
        rest[at] = replace(
            other,
            print_srgb=thick.srgb,
            why=f"on the white screen's {coats} coats: ΔE00 {thick.de00:.1f}, straight {choice.options[0].de00:.1f}",
        )
        if abs(thick.de00 - choice.chosen.de00) >= WORTH_SAYING_DE00:
            told.append(f"{other.name} ΔE00 {choice.chosen.de00:.1f} to {thick.de00:.1f}")
    found = Finding(
        "white-screen-shared",
        "info",
        f"white is base and seen on one screen, hit {coats} times with a flash between: one screen less"
        + (f" ({', '.join(told)})" if told else ""),
        "the film under the colours is thicker: cure it well, and wipe the colours' screens often, since seen white is "
        "printed before them; --white-screens two keeps a thin base and a separate white",
    )
    inks = [ink for k, ink in enumerate(draft.inks) if k not in (base, seen)]
    return replace(
        draft,
        plates=(plate, *rest),
        inks=(draft.inks[seen], *inks),
        choices=choices,
        findings=(*draft.findings, found),
    )


def _without(items: tuple[T, ...], place: int) -> tuple[T, ...]:
    return items[:place] + items[place + 1 :]


def _no_highlight(has_base: bool) -> Finding:
    return Finding(
        "no-highlight",
        "info",
        "no white is seen on a base here, so there is no highlight to print",
        "white alone is already a screen of its own" if not has_base else "name white among the inks (--inks)",
    )
