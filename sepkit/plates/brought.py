"""Whites that the art brings as plates: one that lies under other inks is the base, any other prints last.

In: the base as decided, rows in print order, the bench. Out: the rows that print. The file's base is its own: it is not
choked again and no second one is made, so white is hit once, as often as its coats say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.plates.whites import on_white

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft

UNDER_SHARE = 0.5
"""White under more than this share of an ink is a base for it."""


SEEN_SHARE = 0.05
"""Of a white plate: less than this without ink on it is the rim of a base."""


def with_brought_whites(base: PlateDraft | None, rows: Sequence[PlateDraft], bench: Bench) -> list[PlateDraft]:
    """Return the rows with their whites as the art brings them; ``base`` is what would be made without them."""
    whites = [row for row in rows if row.ink.name == bench.base_ink.name]
    inks = [row for row in rows if row not in whites]
    under = max(whites, key=lambda white: _carried(white, inks), default=None)
    if base is None or under is None or not any(lies_under(under.coverage, ink.coverage) for ink in inks):
        return ([] if base is None else [base]) + list(rows)
    coats = max(base.coats, under.coats) if _seen(under, inks) else base.coats
    own = replace(
        under,
        coats=coats,
        print_srgb=under.print_srgb if coats == under.coats else base.print_srgb,
        also_base=under.coverage,
        why="the white that the art brings: base of the inks on it, and seen where it is bare",
    )
    last = [
        replace(white, role="highlight", why=f"{white.why}; printed last, on the base")
        for white in whites
        if white is not under and lies_under(under.coverage, white.coverage)
    ]
    beside = [white for white in whites if white is not under and not lies_under(under.coverage, white.coverage)]
    kept = [_on(row, coats) for row in rows if row in inks or row in beside]
    return [own, *kept, *last]


def lies_under(white: U8, ink: U8) -> bool:
    """Tell whether a white plate lies under most of an ink."""
    asked = int(ink.sum(dtype=np.int64))
    return asked > 0 and int(np.minimum(white, ink).sum(dtype=np.int64)) > UNDER_SHARE * asked


def _on(row: PlateDraft, coats: int) -> PlateDraft:
    return on_white(row, row.choice, coats)[0] if row.choice is not None and row.based else row


def _seen(white: PlateDraft, inks: Sequence[PlateDraft]) -> bool:
    """Tell whether white is also to be seen bare, and not only at the rims of what lies on it."""
    over = np.maximum.reduce([ink.coverage for ink in inks])
    bare = int(np.count_nonzero((white.coverage > 127) & (over < 128)))
    return bool(bare > SEEN_SHARE * np.count_nonzero(white.coverage > 127))


def _carried(white: PlateDraft, inks: Sequence[PlateDraft]) -> int:
    return sum(int(np.minimum(white.coverage, ink.coverage).sum(dtype=np.int64)) for ink in inks)
