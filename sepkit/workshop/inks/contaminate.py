"""What is left of one ink in the next: two inks and shares of residue in, ΔE00 in both orders out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.inks.residue import SEEN_DE00, Residue, better_first, residues

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import Ink


@dataclass(frozen=True, slots=True, eq=False)
class Contamination:
    """Residues of two inks in each other, and which of them is printed first."""

    first: Ink
    second: Ink
    residues: tuple[Residue, ...]
    print_first: Ink
    seen_de00: float = SEEN_DE00
    """ΔE00 from which on most people see a change side by side."""

    @property
    def print_second(self) -> Ink:
        """The ink that does less harm where it is left over."""
        return self.second if self.print_first is self.first else self.first


def leave_residue(first: str, second: str, shelf: Shelf, *, percents: Sequence[float]) -> Contamination:
    """Return what ``percents`` by weight (0..100) of each ink do to the opaque film of the other.

    Raises NotFoundError, and UsageError when both are the same ink.
    """
    one, two = shelf.ink(first), shelf.ink(second)
    if one.name == two.name:
        raise UsageError(f"both are {one.name}", where="contaminate", hint="name two inks")
    return Contamination(one, two, tuple(residues(one, two, percents)), better_first(one, two))
