"""Two transparent inks that stand for a third: what fires, what does not, and that no coverage is lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.inks.identify import CONTRAST_RATIO, contrast_ratio, ink_from_swatch
from sepkit.inks.layers import printed_reflectance
from sepkit.inks.transparent import is_transparent, transparent_ink
from sepkit.plates.overprint_pairs import (
    OverprintPair,
    apart_from_tones,
    choose_pairs,
    not_under,
    with_overprints,
)
from sepkit.plates.traps import trapped
from sepkit.preview.stress import stress
from tests.helpers.print_plans import BLACK, plan, save
from tests.helpers.shelf import find_garment

YELLOW, CYAN, GREEN, RED = (246, 212, 15), (42, 143, 208), (60, 128, 60), (214, 54, 40)
WHITE_CLOTH = find_garment("white tee").reflectance
VENN = [((5, 5, 35, 35), YELLOW), ((25, 10, 55, 30), CYAN), ((25, 10, 35, 30), GREEN)]


@pytest.mark.parametrize("rgb", [YELLOW, CYAN, (224, 64, 122), (120, 120, 124)])
def test_a_transparent_ink_has_its_colour_on_white_and_hides_nothing(rgb: tuple[int, int, int]) -> None:
    ink = transparent_ink("x", rgb, white=WHITE_CLOTH)
    seen = reflectance_to_lab(printed_reflectance([(ink, 1.0)], WHITE_CLOTH))
    assert float(delta_e_2000(seen, srgb8_to_lab(np.array(rgb)))) < 0.3
    assert contrast_ratio(ink.absorption, ink.scattering) == pytest.approx(CONTRAST_RATIO["transparent"], abs=0.01)
    assert is_transparent(ink) and not is_transparent(ink_from_swatch("x", rgb))
    on_black = printed_reflectance([(ink, 1.0)], find_garment("black tee").reflectance)
    assert reflectance_to_lab(on_black)[0] < 30, "nothing of it shows on black cloth"


def test_a_black_cannot_be_transparent() -> None:
    assert not is_transparent(transparent_ink("x", (16, 16, 18), white=WHITE_CLOTH))


def test_yellow_and_blue_print_green_by_subtraction() -> None:
    yellow, cyan = (transparent_ink("x", rgb, white=WHITE_CLOTH) for rgb in (YELLOW, CYAN))
    r, g, b = reflectance_to_srgb8(printed_reflectance([(yellow, 1.0), (cyan, 1.0)], WHITE_CLOTH))
    assert g > r + 30 and g > b + 30


def test_green_loses_its_screen_on_a_white_tee(tmp_path: Path) -> None:
    art = save(tmp_path, VENN)
    planned, printed = plan(art, "white tee", overprint_colours=True)
    usual, _ = plan(art, "white tee")
    assert len(planned.separation.plates) == 2 and len(usual.separation.plates) == 3
    found = planned.plan.overprints
    assert found is not None and found.screens_without == 3
    (saved,) = found.colours
    assert saved.art_srgb == GREEN and saved.de00 < 3
    seen = printed[20 * 4, 30 * 4]
    assert tuple(int(v) for v in seen) == saved.print_srgb, "the preview shows what the finding tells"
    codes = [f.code for f in planned.separation.findings]
    assert "overprint-colour" in codes and "overprint-saves" in codes
    first, second = planned.separation.plates
    for plate in (first, second):
        assert plate.coverage[20 * 4, 30 * 4] == 255
        assert (plate.printed >= plate.coverage).all()
        assert "transparent" in plate.why


def test_two_named_inks_print_a_third_colour_that_nobody_named(tmp_path: Path) -> None:
    art = save(tmp_path, VENN)
    planned, _ = plan(art, "white tee", overprint_colours=True, inks="#f6d40f,#2a8fd0")
    assert len(planned.separation.plates) == 2
    assert planned.plan.overprints is not None
    (saved,) = planned.plan.overprints.colours
    assert saved.art_srgb == GREEN
    usual, _ = plan(art, "white tee", inks="#f6d40f,#2a8fd0")
    assert planned.separation.p95_de00 < usual.separation.p95_de00 - 5


def test_named_inks_whose_overprint_the_art_lacks_stay_as_they_are(tmp_path: Path) -> None:
    art = save(tmp_path, VENN[:2])
    planned, _ = plan(art, "white tee", overprint_colours=True, inks="#f6d40f,#2a8fd0")
    assert planned.plan.overprints is None and len(planned.separation.plates) == 2


def test_it_is_off_by_default(tmp_path: Path) -> None:
    planned, _ = plan(save(tmp_path, VENN), "white tee")
    assert planned.plan.overprints is None and len(planned.separation.plates) == 3


def test_transparent_inks_straight_on_black_never_stand_for_a_third(tmp_path: Path) -> None:
    art = save(tmp_path, VENN)
    planned, _ = plan(art, "black tee", overprint_colours=True, base=("never",))
    assert planned.plan.overprints is None
    assert len(planned.separation.plates) == 3
    based, _ = plan(art, "black tee", overprint_colours=True)
    assert based.plan.overprints, "on a white base they do"
    base = next(p for p in based.separation.plates if p.role == "underbase")
    assert base.printed[20 * 4, 30 * 4] == 255, "and the base lies under the overprint too"


@pytest.mark.parametrize(("third", "says"), [((40, 110, 90), "the nearest is too far"), (RED, "no two come near one")])
def test_no_pair_near_enough_is_one_finding(third: tuple[int, int, int], says: str, tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 20, 35), YELLOW), ((20, 5, 40, 35), CYAN), ((40, 5, 55, 35), third)])
    planned, _ = plan(art, "white tee", overprint_colours=True)
    assert planned.plan.overprints is None
    (told,) = [f for f in planned.separation.findings if f.code == "no-overprint-colour"]
    assert says in told.text
    if third == RED:
        assert told.more == ""
    else:
        assert "blue over yellow comes nearest to a third ink (teal), ΔE00" in told.more
        assert "draw teal as" in told.hint, "what would save its screen"


def test_inks_that_hide_and_shelf_inks_are_no_parents(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 20, 35), RED), ((20, 5, 40, 35), BLACK)])
    told = plan(art, "white tee", overprint_colours=True)[0].separation.findings
    (none,) = [f for f in told if f.code == "no-overprint-colour"]
    assert "takes three inks" in none.more
    shelf, _ = plan(save(tmp_path, VENN), "white tee", overprint_colours=True, inks="yellow,turquoise,green")
    assert shelf.plan.overprints is None, "the shelf's inks hide: printed over each other they do not mix"


def test_out_of_register_no_cloth_shows_between_overprint_and_parents(tmp_path: Path) -> None:
    planned, _ = plan(save(tmp_path, VENN), "white tee", overprint_colours=True)
    art, plates = planned.separation.artwork, planned.separation.plates
    result = stress(plates, dpi=art.dpi, error_mm=0.5)
    assert result.after.gap_mm2 < 0.1


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_no_plate_loses_coverage_and_traps_keep_the_overprints_edge(seed: int) -> None:
    rng = np.random.default_rng(seed)
    label = np.kron(rng.integers(0, 5, (4, 5)), np.ones((9, 9), int))
    soft = rng.integers(0, 256, label.shape)
    planes = [np.where(label == k, 255, 0).astype(np.uint8) for k in range(4)]
    planes[0] = np.where(label == 0, soft, planes[0]).astype(np.uint8)
    pairs = (OverprintPair(1, 0, 2, (0, 0, 0), 1.0),)
    out = with_overprints(planes, pairs)
    for k in (0, 2):
        assert (out[k].astype(int) == np.minimum(255, planes[k].astype(int) + planes[1])).all()
    assert (out[1] == planes[1]).all() and (out[3] == planes[3]).all()
    grown = trapped(planes, lightness=[90, 60, 40, 10], trap_px=2.0, not_under=not_under(pairs))
    for before, after in zip(planes, grown, strict=True):
        assert (after >= before).all()
    alone = np.where(label == 2, 255, 0) > 0
    assert not ((grown[1] > planes[1]) & alone).any(), "the overprint does not run on under its own parent"


def test_most_inks_are_saved_then_the_nearest_and_no_parent_is_saved() -> None:
    def pair(saved: int, first: int, second: int, de00: float) -> OverprintPair:
        return OverprintPair(saved, first, second, (0, 0, 0), de00)

    found = sorted(
        [pair(2, 0, 1, 1.0), pair(3, 0, 2, 0.5), pair(4, 0, 1, 5.0), pair(4, 1, 5, 3.0)], key=lambda p: p.de00
    )
    chosen = choose_pairs(found, limit_de00=6)
    assert {(p.saved, p.first, p.second) for p in chosen} == {(3, 0, 2), (4, 1, 5)}, "2 is a parent, so it stays"
    assert choose_pairs(found, limit_de00=0.4) == ()


def test_areas_that_meet_tones_keep_their_ink() -> None:
    tone = np.zeros((4, 4), bool)
    tone[:, :2] = True
    left, right = np.where(tone, 255, 0).astype(np.uint8), np.where(tone, 0, 255).astype(np.uint8)
    assert apart_from_tones([left, right, right], [tone, None, None]) == [1, 2]
