"""What a print was decided with, as keys of its record, and back: press, base ink, frames, wishes, and all its inks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sepkit.decisions import INK_SOURCES, InkChoice, Wishes
from sepkit.files.folders.parts import (
    JsonTable,
    frame_json,
    frame_of,
    ink_json,
    numbers_of,
    press_json,
    press_of,
    spectrum,
)
from sepkit.files.folders.wishes import wishes_json, wishes_of
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from sepkit.jobs import Screen
    from sepkit.model import F64, Ink, Press


@dataclass(frozen=True, slots=True, eq=False)
class BenchFacts:
    """What the print was decided with, beside the garment."""

    press: Press
    base_ink: Ink
    white_cloth: F64
    wishes: Wishes = field(default_factory=Wishes)
    frames: tuple[Screen, ...] = ()
    may_turn: bool = False
    measured: Mapping[str, float] = field(default_factory=dict)
    mixed: tuple[InkChoice, ...] = ()
    """The inks found for colours of the art."""


@dataclass(slots=True)
class InkPlaces:
    """The inks of a record, each once: plates that print one ink share its place."""

    known: list[Ink] = field(default_factory=list)

    def place_of(self, ink: Ink) -> int:
        """Return the place of an ink, which is added when it is new."""
        for place, known in enumerate(self.known):
            if known is ink or ink_json(known) == ink_json(ink):
                return place
        self.known.append(ink)
        return len(self.known) - 1


def bench_json(bench: BenchFacts, inks: InkPlaces) -> JsonTable:
    """Return the keys of a bench."""
    return {
        "press": press_json(bench.press),
        "base_ink": inks.place_of(bench.base_ink),
        "white_cloth": bench.white_cloth.tolist(),
        "wishes": wishes_json(bench.wishes, inks.place_of),
        "frames": [frame_json(frame) for frame in bench.frames],
        "may_turn": bench.may_turn,
        "measured": dict(bench.measured),
        "inks_found": [
            {"srgb": to_hex(one.srgb), "ink": inks.place_of(one.ink), "how": one.how, "de00": one.de00}
            for one in bench.mixed
        ],
    }


def bench_of(raw: Mapping[str, Any], inks: tuple[Ink, ...]) -> BenchFacts:
    """Return the bench of ``bench_json``."""
    return BenchFacts(
        press_of(raw["press"]),
        inks[int(raw["base_ink"])],
        spectrum(raw["white_cloth"]),
        wishes_of(raw["wishes"], inks),
        tuple(frame_of(entry) for entry in raw["frames"]),
        bool(raw["may_turn"]),
        numbers_of(raw["measured"]),
        tuple(_choice(entry, inks) for entry in raw.get("inks_found", ())),
    )


def _choice(entry: Mapping[str, Any], inks: tuple[Ink, ...]) -> InkChoice:
    hows = {how: how for how in INK_SOURCES}
    return InkChoice(parse_hex(entry["srgb"]), inks[int(entry["ink"])], hows[entry["how"]], float(entry["de00"]))
