"""How often a plate changes its way along a ramp."""

from __future__ import annotations

from typing import Any

import numpy as np


def turns_of(levels: np.ndarray[Any, Any], slack: int) -> int:
    """Return how often a row of levels changes its way by more than ``slack``."""
    turns, way = 0, 0
    low = high = int(levels[0])
    for level in levels.tolist():
        low, high = min(low, level), max(high, level)
        if way <= 0 and level - low > slack:
            turns += way < 0
            way, high = 1, level
        elif way >= 0 and high - level > slack:
            turns += way > 0
            way, low = -1, level
    return turns
