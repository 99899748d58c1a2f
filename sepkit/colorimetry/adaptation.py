"""Lab given under another white, as Lab D65/2: Bradford chromatic adaptation without loading colour-science.

In: Lab (..., 3) and an illuminant with its observer. Out: Lab D65/2. Adaptation is an estimate of appearance: a
spectrum, where there is one, serves better.
White points: CIE 15 chromaticities. Bradford matrix: Lam, thesis, University of Bradford (1985), as in ICC.1 annex E.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.spectral import lab_of_ratio, ratio_of_lab
from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

WHITE_XY: dict[tuple[str, str], tuple[float, float]] = {
    ("D65", "2"): (0.31270, 0.32900),
    ("D65", "10"): (0.31382, 0.33100),
    ("D50", "2"): (0.34570, 0.35850),
    ("D50", "10"): (0.34773, 0.35952),
    ("D55", "2"): (0.33243, 0.34744),
    ("D55", "10"): (0.33412, 0.34877),
    ("D75", "2"): (0.29903, 0.31488),
    ("D75", "10"): (0.29968, 0.31740),
    ("A", "2"): (0.44758, 0.40745),
    ("A", "10"): (0.45117, 0.40594),
    ("C", "2"): (0.31006, 0.31616),
    ("C", "10"): (0.31039, 0.31905),
}
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def lab_to_d65(lab: Array, illuminant: str, observer: str = "2") -> F64:
    """Return Lab D65/2 of Lab under one of WHITE_XY. Raises UsageError for another illuminant or observer."""
    if (illuminant, observer) not in WHITE_XY:
        known = ", ".join(f"{light}/{angle}" for light, angle in WHITE_XY)
        raise UsageError(f'no white for "{illuminant}/{observer}"', where="Lab", hint=f"one of {known}")
    there, here = _white((illuminant, observer)), _white(("D65", "2"))
    cones = (BRADFORD @ here) / (BRADFORD @ there)
    change = np.linalg.inv(BRADFORD) @ np.diag(cones) @ BRADFORD
    xyz = ratio_of_lab(lab) * there
    return lab_of_ratio((xyz @ change.T) / here)


def _white(key: tuple[str, str]) -> F64:
    x, y = WHITE_XY[key]
    return np.array([x / y, 1.0, (1 - x - y) / y])
