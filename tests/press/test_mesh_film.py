from __future__ import annotations

import pytest

from sepkit.errors import NotFoundError
from sepkit.film.tone import tint_limits
from sepkit.model import Halftone, Mesh
from sepkit.press.mesh import (
    halftone_findings,
    ink_volume_cm3_m2,
    open_area,
    opening_um,
    smallest_dot_um,
    thickness_um,
    tone_limits,
)

# Values a weaver publishes for 90 threads per cm (opening µm, open area %, thickness µm, ink volume cm3/m2).
PUBLISHED = [(Mesh(90, 40), 73, 42, 59, 25), (Mesh(90, 48), 65, 33, 72, 24), (Mesh(90, 54), 59, 27, 84, 23)]


@pytest.mark.parametrize(("mesh", "opening", "area", "thick", "volume"), PUBLISHED)
def test_formulas_against_a_weavers_rows(mesh, opening, area, thick, volume):
    # Real threads are flattened a little: openings come out a few percent low.
    assert opening_um(mesh) == pytest.approx(opening, rel=0.045)
    assert open_area(mesh) * 100 == pytest.approx(area, abs=2)
    assert thickness_um(mesh) == pytest.approx(thick, rel=0.04)
    assert ink_volume_cm3_m2(mesh) == pytest.approx(volume, rel=0.07)


def test_threads_thicker_than_their_pitch_are_no_mesh():
    with pytest.raises(NotFoundError, match="no opening"):
        opening_um(Mesh(120, 90))


def test_the_smallest_dot_spans_an_opening_and_two_threads():
    assert smallest_dot_um(Mesh(43, 80)) == pytest.approx(10000 / 43 + 80)
    assert tone_limits(Mesh(43, 80), small="clear").small == "clear"


def test_finer_mesh_holds_more_tones():
    dots = Halftone(45, 22.5, "round")
    least = [tint_limits(tone_limits(mesh), dots)[0] for mesh in (Mesh(43, 80), Mesh(77, 55), Mesh(120, 34))]
    assert least == sorted(least, reverse=True)
    assert least[0] == pytest.approx(0.24, abs=0.01)
    assert least[2] == pytest.approx(0.034, abs=0.005)


def test_findings_name_what_is_wrong():
    def codes(lpi, mesh, dpi):
        return {f.code for f in halftone_findings(Halftone(lpi, 22.5, "round"), mesh, dpi=dpi, plate="red")}

    assert codes(45, Mesh(90, 40), 720) == set()
    assert codes(65, Mesh(120, 34), 360) == {"few-grey-levels"}
    assert codes(65, Mesh(90, 40), 720) == {"coarse-mesh"}
    assert codes(45, Mesh(43, 80), 720) == {"coarse-mesh", "narrow-tones"}
    assert halftone_findings(Halftone(65, 0, "blue-noise"), Mesh(43, 80), dpi=360, plate="red") == []
