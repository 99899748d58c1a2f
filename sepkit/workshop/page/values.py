"""Plain values that go to the page: what they are called, and a Lab colour as #rrggbb."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from sepkit.inks.looks import look_of_lab
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.model import Finding

Values = dict[str, Any]
"""What JSON can say."""


def findings_told(findings: Iterable[Finding]) -> list[Values]:
    """Return findings as the page shows them: ``more`` is folded there."""
    return [{"word": one.word, "text": one.text, "hint": one.hint, "more": one.more} for one in findings]


def srgb_of_lab(lab: Sequence[float]) -> str:
    """Return the nearest #rrggbb of a Lab D65/2 colour."""
    l, a, b = (float(value) for value in lab)
    return to_hex(look_of_lab((l, a, b)).srgb)
