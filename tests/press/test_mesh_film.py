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

# What a weaver publishes for "90 threads per cm" (opening µm, open area %, thickness µm, ink volume cm3/m2).
PUBLISHED = [(40, 73, 42, 59, 25), (48, 65, 33, 72, 24), (54, 59, 27, 84, 23)]
WOVEN = 1e4 / 113


@pytest.mark.parametrize(("thread", "opening", "area", "thick", "volume"), PUBLISHED)
def test_formulas_against_a_weavers_rows(thread, opening, area, thick, volume):
    """Each row's opening and thread make 113 µm: what is called 90 is woven at 88.5, and there all figures hold."""
    assert opening + thread == 113
    mesh = Mesh(WOVEN, thread)
    assert opening_um(mesh) == pytest.approx(opening, rel=1e-9)
    # The row's own whole numbers are off by up to half a percent point, half a cm3/m2.
    assert open_area(mesh) * 100 == pytest.approx(area, abs=0.5)
    assert thickness_um(mesh) == pytest.approx(thick, rel=0.015)
    assert ink_volume_cm3_m2(mesh) == pytest.approx(volume, rel=0.03)


@pytest.mark.parametrize(("thread", "opening", "area", "thick", "volume"), PUBLISHED)
def test_what_a_rounded_count_costs(thread, opening, area, thick, volume):
    """At the name's count the pitch is 1.7 % short, and the opening, its smaller part, by as many µm."""
    mesh = Mesh(90, thread)
    assert opening - opening_um(mesh) == pytest.approx(113 - 1e4 / 90, abs=1e-9)
    assert opening_um(mesh) == pytest.approx(opening, rel=0.033)
    assert thickness_um(mesh) == pytest.approx(thick, rel=0.03)
    assert ink_volume_cm3_m2(mesh) == pytest.approx(volume, rel=0.06)


def test_thickness_of_a_finer_mesh_and_beyond_the_published_rows():
    assert thickness_um(Mesh(120, 40)) == pytest.approx(63, rel=0.03)
    assert thickness_um(Mesh(24, 120)) == pytest.approx(1.475 * 120)
    assert thickness_um(Mesh(77, 85)) == pytest.approx(1.575 * 85)


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
