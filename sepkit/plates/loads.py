"""Screens by loads of the press: rows in the order of their rounds, with the flashes between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.decisions import Rounds
from sepkit.plates.rounds import flash_reasons, overlap_shares, plan_rounds

if TYPE_CHECKING:
    from sepkit.model import Press
    from sepkit.plates.drafts import PlateDraft


@dataclass(frozen=True, slots=True, eq=False)
class Loaded:
    """Rows round after round, and the rounds as places of these rows."""

    rows: list[PlateDraft]
    rounds: Rounds


def in_rounds(rows: Sequence[PlateDraft], press: Press, *, dpi: float) -> Loaded:
    """Return the rows in the order of their rounds, each with its round and why it is flashed."""
    rounds = plan_rounds([row.printed for row in rows], heads=press.heads, dpi=dpi)
    placed = [replace(rows[i], round=rounds.round_of(i)) for i in rounds.order]
    reasons = flash_reasons(
        overlap_shares([row.printed for row in placed], dpi=dpi),
        roles=["underbase" if row.is_base else row.role for row in placed],
        names=[row.name for row in placed],
        rounds=[row.round for row in placed],
    )
    now = {old: new for new, old in enumerate(rounds.order)}
    moved = Rounds(
        tuple(tuple(now[i] for i in screens) for screens in rounds.rounds),
        tuple((now[a], now[b], mm) for a, b, mm in rounds.parted),
    )
    flashed = [replace(row, flash_why=reason) for row, reason in zip(placed, reasons, strict=True)]
    return Loaded(flashed, moved)
