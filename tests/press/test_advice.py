"""The mesh to start with: finer for thin lines that a finer mesh holds, and not for those that none holds."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sepkit.model import Mesh
from sepkit.press.advice import USABLE_MM, advise_mesh

START, FINEST = Mesh(62, 60), Mesh(120, 34)


def shares(lines: dict[float, float]) -> Callable[[float], float]:
    """Return thin_share of art with ``lines``: width in mm and its share of the ink."""
    return lambda width_mm: sum(share for width, share in lines.items() if width < width_mm)


def advised(lines: dict[float, float]) -> Mesh:
    return advise_mesh(role="colour", white=False, dark_garment=False, has_tone=False, thin_share=shares(lines))


@pytest.mark.parametrize(
    ("lines", "mesh"),
    [
        ({2.0: 1.0}, START),
        ({0.32: 0.2, 2.0: 0.8}, Mesh(77, 55)),
        ({0.27: 0.2, 2.0: 0.8}, Mesh(90, 40)),
        ({0.22: 0.2, 2.0: 0.8}, FINEST),
        ({0.10: 0.2, 2.0: 0.8}, START),
        ({0.10: 0.2, 0.32: 0.2, 2.0: 0.6}, Mesh(77, 55)),
        ({0.10: 0.2, 0.22: 0.005, 0.32: 0.2, 2.0: 0.595}, Mesh(77, 55)),
    ],
)
def test_the_mesh_is_the_first_that_holds_what_the_finest_holds(lines, mesh):
    assert advised(lines) == mesh


def test_no_line_costs_the_measuring_of_the_finest():
    asked: list[float] = []

    def measured(width_mm: float) -> float:
        asked.append(width_mm)
        return 0.0

    mesh = advise_mesh(role="colour", white=False, dark_garment=False, has_tone=False, thin_share=measured)
    assert (mesh, asked) == (START, [USABLE_MM[START][0]])


def test_white_on_dark_starts_open_and_tones_start_fine():
    assert advise_mesh(role="colour", white=True, dark_garment=True, has_tone=False) == Mesh(55, 64)
    assert advise_mesh(role="underbase", white=True, dark_garment=True, has_tone=False) == Mesh(43, 80)
    assert advise_mesh(role="colour", white=True, dark_garment=True, has_tone=True) == Mesh(77, 55)


@pytest.mark.parametrize("role", ["underbase", "colour"])
def test_white_on_dark_cloth_goes_no_finer_than_covers(role):
    """Hairlines that an open mesh would hold on white cloth do not put white for black cloth through 120-34."""

    def told(lines: dict[float, float]) -> Mesh:
        return advise_mesh(role=role, white=True, dark_garment=True, has_tone=False, thin_share=shares(lines))

    assert told({0.32: 0.3, 2.0: 0.7}) == Mesh(77, 55)
    assert told({0.22: 0.3, 0.32: 0.1, 2.0: 0.6}) == Mesh(77, 55)
    assert told({0.22: 0.3, 2.0: 0.7}) == (Mesh(43, 80) if role == "underbase" else Mesh(55, 64))
