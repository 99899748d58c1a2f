"""The decisions of a whole print on small art. Expected outcomes on press are common practice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from scipy.ndimage import binary_dilation

from sepkit.errors import UsageError
from sepkit.model import EdgeRule, Plate
from sepkit.preview.stress import stress
from tests.helpers.print_plans import BLACK, BLUE, RED, WHITE, YELLOW, plan, save

THREE = [((5, 5, 25, 35), YELLOW), ((25, 5, 40, 35), RED), ((40, 5, 55, 35), BLUE)]


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.integers(0, 10_000),
    st.sampled_from(["black tee", "white tee", "red tee"]),
    st.sampled_from(["as-drawn", "smooth"]),
)
@example(0, "black tee", "smooth")
def test_bare_garment_never_gets_ink_and_the_base_stays_under_what_it_supports(
    tmp_path: Path, seed: int, garment: str, edges: EdgeRule
) -> None:
    """Outlines that are drawn again share the pixels along them, and none farther away."""
    rng = np.random.default_rng(seed)
    colours = [YELLOW, BLUE, WHITE if garment != "white tee" else BLACK]
    blocks = [
        ((x * 10, y * 10, x * 10 + 10, y * 10 + 10), colours[pick])
        for x in range(6)
        for y in range(4)
        if (pick := int(rng.integers(0, 4))) < 3
    ]
    if len({rgb for _, rgb in blocks}) < 2:
        return
    planned, _ = plan(save(tmp_path, blocks, name=f"art{seed}"), garment, edges=edges)
    art, plates = planned.separation.artwork, planned.separation.plates
    assert [plate.order for plate in plates] == list(range(1, len(plates) + 1))
    bare = art.alpha == 0
    if edges == "smooth":
        for plate in plates:
            assert plate.printed[bare].max(initial=0) < 128, "films are cut at half: the outline stays where it was"
        bare &= ~binary_dilation(art.alpha > 0, np.ones((3, 3), bool))
    for plate in plates:
        assert plate.printed[bare].max(initial=0) == 0, plate.name
    base = next((p for p in plates if p.role == "underbase"), None)
    if base is not None:
        based = [p for p in plates if p.role != "underbase" and planned.plan.choices[p.name].chosen.base_coats]
        assert (base.printed <= np.maximum.reduce([p.printed for p in based])).all(), "no further than their traps"
        assert (base.coverage <= np.sum([p.coverage for p in based], axis=0)).all(), "inks share the pixels of a join"
        assert base.order == 1
        assert base.flash_after


def test_one_white_screen_for_base_and_seen_white_when_it_saves_a_round(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), WHITE), ((30, 5, 55, 35), RED)])
    planned, printed = plan(art, edges="as-drawn")
    white, red = planned.separation.plates
    assert white.role == "colour" and white.also_base is not None
    assert white.coats == 2 and white.flash_after
    assert (white.coverage[:, : 30 * 4] == white.also_base[:, : 30 * 4]).all()
    assert white.coverage[:, 31 * 4 :].max() == 0, "the plate as asked is the white that is seen"
    assert white.printed[80, 45 * 4] == 255, "the film carries the base too"
    assert white.round == red.round == 1
    assert any(f.code == "white-screen-shared" for f in planned.separation.findings)
    apart, printed_apart = plan(art, white_screens="two", base=("always",), edges="as-drawn")
    assert [p.role for p in apart.separation.plates] == ["underbase", "colour", "colour"]
    assert np.abs(printed.astype(int) - printed_apart).max() < 40, "both look much alike"


def test_a_press_with_heads_enough_keeps_two_whites(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), WHITE), ((30, 5, 55, 35), RED)])
    planned, _ = plan(art, press="four-head")
    assert [p.role for p in planned.separation.plates] == ["underbase", "colour", "colour"]
    shared, _ = plan(art, press="four-head", white_screens="one")
    assert len(shared.separation.plates) == 2


def test_highlight_white_is_last_and_dry_under_it(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 20, 35), WHITE), ((20, 5, 40, 35), RED), ((40, 5, 55, 35), BLUE)])
    planned, _ = plan(art, press="four-head", highlight=True)
    plates = planned.separation.plates
    assert plates[0].role == "underbase"
    assert plates[-1].role == "highlight"
    assert plates[-2].flash_after and not plates[-1].flash_after
    assert (plates[-1].printed == plates[-1].coverage).all()


def test_wishes_that_contradict_each_other_are_one_line(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), WHITE), ((30, 5, 55, 35), RED)])
    with pytest.raises(UsageError, match="second white screen"):
        plan(art, highlight=True, white_screens="one")
    with pytest.raises(UsageError, match="two different things"):
        plan(art, inks="red,#fafaf8", base=("red=always", "RED=never"))


def test_no_highlight_without_white_is_told(tmp_path: Path) -> None:
    planned, _ = plan(save(tmp_path, THREE), press="four-head", highlight=True)
    assert any(f.code == "no-highlight" for f in planned.separation.findings)


def test_rounds_are_told_with_what_touches_across_them(tmp_path: Path) -> None:
    planned, _ = plan(save(tmp_path, THREE))
    told = next(f for f in planned.separation.findings if f.code == "more-screens-than-heads")
    assert told.level == "warn"
    assert "on its platen" in told.hint and "reload" in told.more
    assert max(p.round for p in planned.separation.plates) == len(planned.plan.rounds.rounds)
    ends = [
        p for p, q in zip(planned.separation.plates, planned.separation.plates[1:], strict=False) if p.round != q.round
    ]
    assert all(plate.flash_after for plate in ends)


def test_parts_that_stand_apart_may_be_reloaded(tmp_path: Path) -> None:
    apart = [((2, 5, 20, 35), RED), ((40, 5, 58, 35), BLUE), ((27, 5, 33, 35), BLACK)]
    planned, _ = plan(save(tmp_path, apart), "white tee")
    told = next(f for f in planned.separation.findings if f.code == "more-screens-than-heads")
    assert told.level == "info"
    assert planned.plan.rounds.parted == ()


def test_black_on_black_is_left_to_the_garment(tmp_path: Path) -> None:
    planned, _ = plan(save(tmp_path, [((5, 5, 30, 35), BLACK), ((30, 5, 55, 35), RED)]))
    assert all(p.art_srgb != BLACK for p in planned.separation.plates)


def test_a_lighter_base_is_dots_under_what_allows_it_and_the_print_stays_near(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), YELLOW), ((30, 5, 55, 35), RED)])
    plain, seen = plan(art, base=("always",))
    light, seen_light = plan(art, base=("always",), light_base=True, tolerance_de00=4.0)
    thick, thin = plain.separation.plates[0], light.separation.plates[0]
    assert thin.tone is not None and thin.halftone is not None
    assert int(thin.printed.sum()) < int(thick.printed.sum())
    assert light.separation.mean_de00 < plain.separation.mean_de00 + 4.0
    assert np.abs(seen.astype(int) - seen_light).max() < 60


def test_a_base_that_the_mesh_cannot_hold_is_told_with_its_place(tmp_path: Path) -> None:
    line = [((5, 5, 55, 20), YELLOW), ((5, 30, 55, 31), YELLOW)]
    planned, _ = plan(save(tmp_path, line), base=("always",), mesh="43-80", choke_mm=0.3)
    told = next(f for f in planned.separation.findings if f.code == "base-below-mesh")
    assert told.place_mm is not None
    assert told.place_mm[1] == pytest.approx(30.5, abs=1.5)


def test_an_ink_out_of_tolerance_is_told_with_its_best_way_and_what_helps(tmp_path: Path) -> None:
    planned, _ = plan(save(tmp_path, [((5, 5, 55, 35), YELLOW)]), base=("never",), tolerance_de00=1.0)
    told = next(f for f in planned.separation.findings if f.code == "colour-shifts")
    assert "off its colour" in told.text and "ΔE00" in told.more
    assert "would help" in told.hint or "lighter" in told.hint


def test_two_heads_print_two_inks_without_a_base_where_that_is_within_tolerance(tmp_path: Path) -> None:
    art = save(tmp_path, [((5, 5, 30, 35), (240, 174, 45)), ((30, 5, 55, 35), (27, 116, 130))])
    two, _ = plan(art)
    assert [p.role for p in two.separation.plates] == ["colour", "colour"]
    assert len(two.plan.rounds.rounds) == 1
    assert all(choice.within_tolerance for choice in two.plan.choices.values())
    four, _ = plan(art, press="four-head")
    assert four.separation.plates[0].role == "underbase"


@pytest.mark.parametrize("wish", [{"white_screens": "one"}, {"highlight": True}])
def test_white_beside_an_ink_without_base_opens_no_gap(tmp_path: Path, wish: dict[str, object]) -> None:
    stripes = [((5, 5, 20, 35), WHITE), ((20, 5, 40, 35), BLUE), ((40, 5, 55, 35), YELLOW)]
    planned, _ = plan(
        save(tmp_path, stripes),
        "navy tee",
        press="four-head",
        base=("always", "#1e3c96=never"),
        inks="#fafaf8,#1e3c96,#f5cd3c",
        **wish,
    )
    assert sorted(choice.chosen.base_coats > 0 for choice in planned.plan.choices.values()) == [False, True, True]
    found = stress(planned.separation.plates, dpi=planned.separation.artwork.dpi, error_mm=0.3)
    assert found.before.gap_mm2 > 5
    assert found.after.gap_mm2 < 0.25 * found.before.gap_mm2, "an error of 1.2 px is measured to a fifth of a pixel"


def _ink_without_base_mm2(plates: tuple[Plate, ...], dark: str, *, shift_px: int) -> float:
    """Return how much of the based ink shows without base under it when the dark plate moves to the right."""
    by = {p.name: p.printed.astype(int) for p in plates}
    moved = np.zeros_like(by[dark])
    moved[:, shift_px:] = by[dark][:, :-shift_px]
    (based,) = [n for n in by if n not in (dark, "underbase")]
    return float(np.minimum(np.minimum(by[based], 255 - moved), 255 - by["underbase"]).sum()) / 255 / 16


def test_the_base_runs_on_under_a_dark_ink_that_hides_it(tmp_path: Path) -> None:
    """A navy stripe beside a yellow field on a black tee: the yellow has a base, the navy goes on straight."""
    navy = (23, 48, 79)
    on_base = {"base": ("auto", "#f5cd3c=always"), "inks": "#f5cd3c,#17304f", "edges": "as-drawn"}
    art = save(tmp_path, [((5, 5, 28, 35), YELLOW), ((28, 5, 32, 35), navy)])
    planned, _ = plan(art, choke_mm=0.0, trap_mm=0.5, **on_base)
    plates = planned.separation.plates
    dark = next(p for p in plates if p.art_srgb == navy)
    assert [planned.plan.choices[p.name].chosen.base_coats for p in plates if p is dark] == [0]
    base = next(p for p in plates if p.role == "underbase")
    assert base.printed[80, 28 * 4 + 1] == 255 and base.coverage[80, 28 * 4 + 1] == 0
    assert base.printed[80, 29 * 4 :].max() == 0
    assert _ink_without_base_mm2(plates, dark.name, shift_px=2) < 0.2, "15 mm2 if the base ended at the join"
    choked, _ = plan(art, **on_base)
    rim = next(p for p in choked.separation.plates if p.role == "underbase").printed
    assert rim[5 * 4 : 5 * 4 + 2, :].max() < 255, "at the ends of the join it still keeps from bare cloth"


def test_a_dropped_background_that_the_cloth_stands_for_is_not_compared(tmp_path: Path) -> None:
    """White on black: on black cloth no ink prints the ground, and the cloth is not held against the art's black."""
    art = save(tmp_path, [((0, 0, 60, 40), (0, 0, 0)), ((10, 10, 50, 30), WHITE)])
    kept = plan(art, "black hoodie", inks="white")[0].separation
    dropped = plan(art, "black hoodie", inks="white", background="drop")[0].separation
    assert dropped.artwork.alpha[4, 4] == 0 and kept.artwork.alpha[4, 4] == 255
    assert dropped.artwork.alpha[20 * 4, 30 * 4] == 255
    np.testing.assert_array_equal(dropped.plates[-1].printed, kept.plates[-1].printed)
