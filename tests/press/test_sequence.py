from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.press.runs import Pull, Run
from sepkit.press.sequence import press_order, tally_of

TRACE = {
    ("white", "black"): 0.4,
    ("black", "white"): 9.0,
    ("red", "white"): 5.0,
    ("white", "red"): 1.0,
    ("red", "black"): 0.5,
    ("black", "red"): 6.0,
}


def run(
    print_name: str, garment: str, *pulls: Pull, risk: float = 1.0, cloth: float = 10.0, platen: str = "body"
) -> Run:
    return Run(print_name, "full back", garment, cloth, 10, platen, pulls, risk)


def pull(screen: int, ink: str, image: str = "", *, end: str = "A", taped: tuple[str, ...] = ()) -> Pull:
    return Pull(screen, end, image or f"{screen}/{ink}", ink, 300, 1, flash_after=False, taped=taped)  # type: ignore[arg-type]


def test_white_comes_before_black_on_one_screen() -> None:
    runs = [run("a", "g1", pull(1, "black")), run("b", "g2", pull(1, "white")), run("c", "g3", pull(1, "black"))]
    order = press_order(runs, heads=2, trace=TRACE)
    assert [step.run.pulls[0].ink for step in order.steps] == ["white", "black", "black"]
    assert order.tally.washups == 1
    assert order.as_written.washups == 2
    assert order.exact


def test_riskiest_placement_first_on_each_garment() -> None:
    runs = [run("label", "hoodie", pull(1, "white"), risk=0.2), run("back", "hoodie", pull(1, "white"), risk=3.0)]
    order = press_order(runs, heads=1, trace={})
    assert [step.run.print_name for step in order.steps] == ["back", "label"]


def test_frames_are_turned_as_rarely_as_they_can_be() -> None:
    near = pull(1, "white", "back", taped=("chest",))
    far = pull(1, "white", "chest", end="B", taped=("back",))
    runs = [
        run("back", "g1", near, risk=2),
        run("chest", "g1", far),
        run("back", "g2", near, risk=2),
        run("chest", "g2", far),
    ]
    order = press_order(runs, heads=2, trace={})
    assert order.tally.turns == 1
    assert order.as_written.turns == 3


def test_more_screens_than_heads_means_reloads() -> None:
    three = [pull(n, ink) for n, ink in ((1, "white"), (2, "red"), (3, "black"))]
    order = press_order([run("front", "tee", *three)], heads=2, trace=TRACE)
    assert order.tally.reloads == 10
    assert press_order([run("front", "tee", *three)], heads=3, trace=TRACE).tally.reloads == 0


def test_what_comes_between_two_rounds_is_not_asked_for_before_the_first() -> None:
    three = [pull(n, ink) for n, ink in ((1, "white"), (2, "red"), (3, "black"))]
    (step,) = press_order([run("front", "tee", *three)], heads=2, trace=TRACE).steps
    assert [text for text in step.changes if "hang" in text] == [
        "hang screen 1, end A to the clamp, and register it",
        "hang screen 2, end A to the clamp, and register it",
    ]
    assert not any("take off" in text or "wash" in text for text in step.changes)
    assert step.before_pull(1) == ("wash the 300 mm blade: white out",)
    assert step.before_pull(2) == (
        "take the 10 garments off, and load each again in register",
        "take off screen 1",
        "hang screen 3, end A to the clamp, and register it",
        "wash the 300 mm blade: red out",
    )


def test_two_images_of_one_screen_are_opened_one_after_the_other() -> None:
    first, second = pull(1, "white", "base", taped=("top",)), pull(1, "red", "top", taped=("base",))
    (step,) = press_order([run("front", "tee", first, second)], heads=2, trace=TRACE).steps
    assert "screen 1: open base, tape off top" in step.changes
    assert step.before_pull(1)[:2] == ("screen 1: open top, tape off base", "wash screen 1: white out, red in")


def test_light_cloth_before_dark_cloth() -> None:
    runs = [run("a", "black tee", pull(1, "red")), run("a", "white tee", pull(1, "red"), cloth=95.0)]
    order = press_order(runs, heads=1, trace={})
    assert [step.run.garment for step in order.steps] == ["white tee", "black tee"]
    assert order.as_written.retapes == 1
    assert order.tally.retapes == 0


INKS = st.sampled_from(["white", "red", "black"])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 3), INKS, st.sampled_from("AB"), st.integers(0, 2)), min_size=2, max_size=6))
def test_exact_order_is_the_best_of_all(given_runs: list[tuple[int, str, str, int]]) -> None:
    runs = [
        run(f"p{n}", f"g{garment}", pull(screen, ink, end=end, taped=("other",)), risk=5.0 - n)
        for n, (screen, ink, end, garment) in enumerate(given_runs)
    ]
    order = press_order(runs, heads=2, trace=TRACE)
    assert order.exact
    best = min(
        tally_of(way, heads=2, trace=TRACE).minutes
        for way in itertools.permutations(runs)
        if all(way.index(a) < way.index(b) for a in runs for b in runs if a.garment == b.garment and a.risk > b.risk)
    )
    assert order.tally.minutes == pytest.approx(best)
    assert sorted(step.run.print_name for step in order.steps) == sorted(r.print_name for r in runs)


def test_a_narrow_beam_says_that_it_is_not_exact() -> None:
    runs = [run(f"p{n}", f"g{n}", pull(n % 3 + 1, ("white", "red", "black")[n % 2])) for n in range(7)]
    order = press_order(runs, heads=1, trace=TRACE, most_states=3)
    assert not order.exact
    assert len(order.steps) == 7


def test_a_blade_is_washed_only_when_no_clean_one_is_left() -> None:
    runs = [run("a", "g1", pull(1, "white")), run("b", "g2", pull(2, "black")), run("c", "g3", pull(3, "white"))]
    order = press_order(runs, heads=3, trace={})
    assert order.as_written.blade_washes == 2
    assert order.tally.blade_washes == 1
    two = [
        Run(
            r.print_name,
            r.placement,
            r.garment,
            r.cloth_lightness,
            r.pieces,
            r.platen,
            tuple(replace(p, blades=2) for p in r.pulls),
            r.risk,
        )
        for r in runs
    ]
    assert press_order(two, heads=3, trace={}).as_written.blade_washes == 0
