"""What the page may ask of the benches beside the table, by name: the drop, inks, photographs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.page import drop_calls, ink_calls, photo_calls

if TYPE_CHECKING:
    from sepkit.model import Progress


def answer(folder: Path, call: str, arguments: Mapping[str, Any], progress: Progress) -> Any:
    """Return what a call gives. Raises KeyError for a call that there is not, SepkitErrors as the workshop does."""
    if call in ink_calls.WHAT:
        return ink_calls.answer(call, arguments)
    return _CALLS[call](folder, arguments, progress)


def check(folder: Path, call: str, arguments: Mapping[str, Any]) -> None:
    """Look at what is asked before a process is started for it. Raises SepkitErrors."""
    if call in photo_calls.OF_PHOTOS:
        photo_calls.photos_of(folder, arguments)


_CALLS: Mapping[str, Callable[[Path, Mapping[str, Any], Any], Any]] = {
    "inspect": photo_calls.inspect_call,
    "guide": photo_calls.guide,
    "wedge_film": photo_calls.wedge_film,
    "wedge_read": photo_calls.wedge_read,
    "drop_make": drop_calls.make,
    "drop_check": drop_calls.check,
    "drop_plan": drop_calls.plan,
}
