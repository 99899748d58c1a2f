"""From ink areas to plates: coats, traps, order, base, whites, rounds, tones and screens, decided on one bench.

In: the areas that a separation found, the size of the print, a Bench. Out: a Plan, plates in print order with all that
was decided about them. Nothing is read and nothing is separated again: with the areas in hand, a changed wish (an ink,
a base rule, coats, choke, trap, order, mesh) costs one call.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sepkit.plates.base_or_straight import asked_test_print
from sepkit.plates.brought import with_brought_whites
from sepkit.plates.drafts import drafts_of, finished
from sepkit.plates.grounds import base_rule, base_under, helps_of, with_coats
from sepkit.plates.joints import in_print_order, with_traps
from sepkit.plates.loads import in_rounds
from sepkit.plates.screens import on_screens
from sepkit.plates.solved import solved_rows
from sepkit.plates.tints import tones_as_printed, with_light_base
from sepkit.plates.whites import Settled, settle_whites
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice, Help, OverprintColours, Rounds
    from sepkit.model import U32, Finding, InkArea, Plate, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft
    from sepkit.plates.overprint_pairs import Overprints


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A print as decided."""

    plates: tuple[Plate, ...]
    """In print order."""
    rounds: Rounds
    choices: Mapping[str, CoatChoice]
    """How each ink goes on, by the name of its plate, in the order of the areas."""
    helps: Mapping[str, Help] = field(default_factory=dict)
    """What would help inks that are out of tolerance, by the name of their plate."""
    order_why: str = ""
    base_thin: U32 | None = None
    """Flat indices, rising, where strokes keep their base without the full choke."""
    findings: tuple[Finding, ...] = ()
    overprints: OverprintColours | None = None
    """Colours of the art that two inks print over each other."""


def decide(areas: Sequence[InkArea], size: Size, bench: Bench, overprints: Overprints | None = None) -> Plan:
    """Decide all plates of a print; areas that ``overprints`` stand for print with both their parents' plates.

    Raises UsageError for a wish about an ink that is not in the print, or wishes that contradict each other.
    """
    dpi = areas[0].coverage.shape[1] * MM_PER_INCH / size.width_mm
    if bench.wishes.solved:
        return _solved(areas, size, bench, dpi)
    rows = with_traps(with_coats(drafts_of(areas, bench, overprints), bench), bench, dpi=dpi)
    saved = [row for row in rows if row.pair is not None]
    ordered = in_print_order([row for row in rows if row.pair is None], bench.wishes.order, dpi=dpi)
    under = base_under([*ordered.rows, *saved], bench, dpi=dpi)
    if bench.wishes.as_brought:
        whites = Settled(with_brought_whites(under.row, ordered.rows, bench))
    else:
        whites = settle_whites(([] if under.row is None else [under.row]) + ordered.rows, bench)
    loaded = in_rounds(whites.rows, bench.press, dpi=dpi)
    rows = loaded.rows if bench.wishes.as_brought else tones_as_printed(loaded.rows, bench.garment, dpi=dpi)
    if bench.wishes.light_base:
        rows = with_light_base(rows, bench)
    screened = on_screens(rows, bench, size, dpi=dpi)
    return Plan(
        finished(screened.rows),
        loaded.rounds,
        _choices(screened.rows),
        helps_of(screened.rows, bench),
        ordered.why,
        under.kept_thin,
        (*_tests_asked(screened.rows, bench), *whites.findings, *screened.findings),
    )


def _tests_asked(rows: Sequence[PlateDraft], bench: Bench) -> tuple[Finding, ...]:
    free = [row for row in rows if row.ink.name != bench.base_ink.name and base_rule(row, bench) == "auto"]
    choices = {row.name: row.choice for row in free if row.choice is not None}
    asked = asked_test_print(choices, bench.wishes.tolerance_de00)
    return () if asked is None else (asked,)


def _solved(areas: Sequence[InkArea], size: Size, bench: Bench, dpi: float) -> Plan:
    """Return the plan of screens that were solved together: nothing is left to decide but loads and dots."""
    loaded = in_rounds(solved_rows(areas, bench, dpi=dpi), bench.press, dpi=dpi)
    screened = on_screens(loaded.rows, bench, size, dpi=dpi)
    return Plan(finished(screened.rows), loaded.rounds, {}, findings=screened.findings)


def _choices(rows: Sequence[PlateDraft]) -> dict[str, CoatChoice]:
    by_area = sorted(rows, key=lambda row: row.index)
    return {row.name: row.choice for row in by_area if row.choice is not None}
