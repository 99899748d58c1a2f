"""What is open and what is taped off when each print of a screen is pulled, and how the frame stands.

In: a ScreenPlan, the order of the prints where it is known. Out: TapeSteps. One print is open at a time; the others are
taped on the print side, those beside the blade on both faces (common practice), once the register marks have been used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sepkit.press.jobs import FrameEnd, PlacedItem, ScreenPlan


@dataclass(frozen=True, slots=True)
class TapeStep:
    """One print of a screen, ready to be pulled."""

    number: int
    open: PlacedItem
    taped: tuple[str, ...]
    """Names of the prints under tape."""
    both_faces: tuple[str, ...]
    """Those of them that the stroke passes beside: taped on the squeegee face too."""
    end: FrameEnd
    """The frame end at the clamp."""
    turn: bool
    """The frame is unclamped and turned before this step."""

    @property
    def words(self) -> tuple[str, ...]:
        """Return what to do, one thing each."""
        turn = f"turn the frame, end {self.end} to the clamp" if self.turn else f"end {self.end} at the clamp"
        parts = [turn]
        front = [name for name in self.taped if name not in self.both_faces]
        if front:
            parts.append("tape off " + ", ".join(front))
        if self.both_faces:
            parts.append("tape on both faces " + ", ".join(self.both_faces))
        if self.open.blade_mm:
            parts.append(f"blade {self.open.blade_mm:.0f} mm")
        if abs(self.open.shift_mm) > 0.05:
            side = "right" if self.open.shift_mm > 0 else "left"
            parts.append(f"garment {abs(self.open.shift_mm):.0f} mm to the {side}")
        if self.open.rotation % 180:
            parts.append("load the garment sideways")
        return tuple(parts)


def tape_steps(plan: ScreenPlan, *, order: Sequence[str] = ()) -> tuple[TapeStep, ...]:
    """Return one step for each print: in ``order`` where it names them, else with the frame turned once at most."""
    place = {name: k for k, name in enumerate(order)}
    last = len(place)
    placed = sorted(plan.placed, key=lambda p: (place.get(p.item.name, last), p.end, _from_clamp(p, plan), p.x_mm))
    steps: list[TapeStep] = []
    end: FrameEnd = "A"
    for number, one in enumerate(placed, 1):
        others = [p for p in plan.placed if p is not one]
        beside = tuple(p.item.name for p in others if _beside(p, one))
        steps.append(TapeStep(number, one, tuple(p.item.name for p in others), beside, one.end, one.end != end))
        end = one.end
    return tuple(steps)


def turned_frame(placed: PlacedItem, plan: ScreenPlan) -> tuple[float, float]:
    """Return the top left corner (mm) of a print as the press sees it with the frame turned: (x, y) -> (-x, -y)."""
    return (
        plan.screen.inside_width_mm - placed.x_mm - placed.width_mm,
        plan.screen.inside_height_mm - placed.y_mm - placed.height_mm,
    )


def _from_clamp(placed: PlacedItem, plan: ScreenPlan) -> float:
    return placed.y_mm if placed.end == "A" else turned_frame(placed, plan)[1]


def _beside(other: PlacedItem, one: PlacedItem) -> bool:
    """Tell whether the stroke over ``one`` runs beside ``other``."""
    return other.y_mm < one.y_mm + one.height_mm and one.y_mm < other.y_mm + other.height_mm
