"""What is taped off at each print, and how the frame stands."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sepkit.jobs import Screen
from sepkit.model import Mesh
from sepkit.press.gang.plan import gang_screens
from sepkit.press.jobs import GangItem, GangRules, PlacedItem, ScreenPlan
from sepkit.press.tape import tape_steps, turned_frame

MESH = Mesh(43, 80)
FRAME = Screen("large frame", 530, 740, MESH)


def plan_of(*sizes: tuple[str, float, float], reach: float | None = 505) -> ScreenPlan:
    items = [GangItem(name, w, h, "white", MESH) for name, w, h in sizes]
    (plan,) = gang_screens(items, [FRAME], rules=GangRules(platen_reach_mm=reach)).screens
    return plan


def test_each_print_is_open_once_and_all_others_are_taped() -> None:
    plan = plan_of(("back", 320, 380), ("chest", 90, 80), ("label", 60, 50))
    steps = tape_steps(plan)
    assert [s.number for s in steps] == [1, 2, 3]
    assert {s.open.item.name for s in steps} == {"back", "chest", "label"}
    for step in steps:
        assert {step.open.item.name, *step.taped} == {"back", "chest", "label"}
        assert len(step.taped) == 2


def test_the_frame_is_turned_once_and_the_words_say_so() -> None:
    steps = tape_steps(plan_of(("back", 320, 380), ("chest", 90, 80)))
    assert [s.end for s in steps] == ["A", "B"]
    assert [s.turn for s in steps] == [False, True]
    assert "turn the frame, end B to the clamp" in steps[1].words
    assert "turn" not in " ".join(steps[0].words)


def test_a_given_order_is_kept() -> None:
    plan = plan_of(("back", 320, 380), ("chest", 90, 80))
    turned = next(p.item.name for p in plan.placed if p.end == "B")
    steps = tape_steps(plan, order=[turned])
    assert [s.turn for s in steps] == [True, True]
    assert steps[0].open.item.name == turned


def test_neighbours_beside_the_stroke_are_taped_on_both_faces() -> None:
    plan = plan_of(("back", 320, 380), ("chest", 90, 80), ("label", 60, 50))
    by_name = {s.open.item.name: s for s in tape_steps(plan)}
    assert by_name["chest"].both_faces == ("label",)
    assert by_name["back"].both_faces == ()
    assert "tape on both faces label" in by_name["chest"].words


@given(st.floats(0, 500), st.floats(0, 700), st.floats(1, 30), st.floats(1, 40))
def test_turning_the_frame_maps_a_point_to_its_opposite(x: float, y: float, w: float, h: float) -> None:
    placed = PlacedItem(GangItem("a", w, h, "", MESH), x, y, w, h, 180, "B")
    left, top = turned_frame(placed, ScreenPlan(1, FRAME, MESH, "", (placed,)))
    before = (x + w / 2 - FRAME.inside_width_mm / 2, y + h / 2 - FRAME.inside_height_mm / 2)
    after = (left + w / 2 - FRAME.inside_width_mm / 2, top + h / 2 - FRAME.inside_height_mm / 2)
    assert abs(before[0] + after[0]) < 1e-9
    assert abs(before[1] + after[1]) < 1e-9
