from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sepkit.press.runs import (
    BLADE_MIN,
    MOUNT_MIN,
    PLATEN_MIN,
    START,
    PressState,
    Pull,
    Run,
    screens_hung,
    wash_min,
    ways_on,
)
from sepkit.press.sequence import least_below, least_minutes, press_order
from sepkit.press.sequence_blocks import blocks_of
from sepkit.press.sequence_bound import fixed_minutes
from sepkit.press.washes import least_washes

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


def test_of_equal_orders_the_riskiest_placement_comes_first() -> None:
    runs = [run("label", "hoodie", pull(1, "white"), risk=0.2), run("back", "hoodie", pull(2, "white"), risk=3.0)]
    order = press_order(runs, heads=2, trace={})
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
    assert order.exact


THREE = tuple(pull(n, ink) for n, ink in ((1, "white"), (2, "red"), (3, "black")))


def test_screens_go_round_batch_after_batch() -> None:
    one = replace(run("front", "tee", *THREE), batch=4)
    (step,) = press_order([one], heads=2, trace=TRACE).steps
    # Ten garments, four at a time, by hand: 1 and 2, 3 for 2; 2 for 1; 1 for 3, 3 for 1.
    assert step.tally.changes == 3
    assert step.tally.minutes == pytest.approx(PLATEN_MIN + 6 * MOUNT_MIN + 2 * BLADE_MIN)
    assert step.before_pull(2)[:2] == (
        "take off screen 2, the garments stay on their platens",
        "hang screen 3, end A to the clamp, and register it",
    )


def test_a_screen_left_hanging_is_not_counted_on_where_the_heads_are_full_before_its_turn() -> None:
    before = run("other", "tee", THREE[2])
    around = replace(run("front", "tee", *THREE), batch=10)
    order = press_order([before, around], heads=2, trace=TRACE)
    assert order.tally.mounts == (4 if order.steps[0].run.print_name == "other" else 3)


@pytest.mark.parametrize(("count", "heads"), [(3, 1), (3, 2), (5, 2), (6, 4)])
def test_the_screen_pulled_last_comes_off(count: int, heads: int) -> None:
    hanging, last, hung = set[int](), -1, 0
    for now in range(count * 7):
        screen = now % count
        if screen not in hanging:
            hung += 1
            if len(hanging) == heads:
                hanging.remove(last)
            hanging.add(screen)
        last = screen
    assert hung == screens_hung(count, heads, 7)


def _least_hung(count: int, heads: int, batches: int) -> int:
    """Every choice of the screen that comes off, tried."""
    asked = [n % count for n in range(count * batches)]

    def on(at: int, hanging: frozenset[int]) -> int:
        if at == len(asked):
            return 0
        if asked[at] in hanging:
            return on(at + 1, hanging)
        if len(hanging) < heads:
            return 1 + on(at + 1, hanging | {asked[at]})
        return 1 + min(on(at + 1, hanging - {out} | {asked[at]}) for out in hanging)

    return on(0, frozenset())


@pytest.mark.parametrize("count", [3, 4, 5])
@pytest.mark.parametrize("heads", [1, 2, 3])
def test_no_way_hangs_fewer_screens(count: int, heads: int) -> None:
    for batches in (1, 2, 3):
        assert screens_hung(count, heads, batches) == _least_hung(count, heads, batches)


def test_a_second_stage_waits_for_the_first_on_every_garment() -> None:
    first = replace(run("front", "tee", THREE[0]), stages=2)
    second = replace(run("front", "tee", *THREE[1:]), stage=2, stages=2)
    other = run("back", "tee", *THREE[1:])
    order = press_order([first, second, other], heads=2, trace=TRACE)
    at = {(step.run.print_name, step.run.stage): step.number for step in order.steps}
    assert at["front", 1] < at["front", 2]
    assert order.exact


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


def _best_of_all(runs: list[Run], heads: int) -> float:
    """Every order of single runs, and every choice of screens that stay, tried."""
    everything = frozenset(pull.screen for one in runs for pull in one.pulls)

    def on(left: frozenset[int], state: PressState) -> float:
        best = float("inf") if left else 0.0
        for nth in left:
            one = runs[nth]
            if any(runs[k].print_name == one.print_name and runs[k].stage < one.stage for k in left):
                continue
            for now, tally in ways_on(state, one, heads=heads, trace=TRACE, later=everything):
                best = min(best, tally.minutes + on(left - {nth}, now))
        return best

    return on(frozenset(range(len(runs))), START)


CLOTH = st.sampled_from([8.0, 15.0, 40.0, 95.0])
RUN = st.tuples(st.lists(st.integers(1, 4), min_size=1, max_size=2, unique=True), INKS, st.sampled_from("AB"), CLOTH)


@settings(max_examples=40, deadline=None)
@given(st.lists(RUN, min_size=2, max_size=5), st.integers(1, 3), st.booleans())
def test_exact_order_is_the_best_of_all(
    given_runs: list[tuple[list[int], str, str, float]], heads: int, staged: bool
) -> None:
    runs = [
        run(
            f"p{n}",
            f"g{n % 3}",
            *(pull(screen, ink, end=end, taped=("other",)) for screen in screens),
            risk=5.0 - n,
            cloth=cloth,
        )
        for n, (screens, ink, end, cloth) in enumerate(given_runs)
    ]
    runs = [replace(one, batch=4) if len(one.pulls) > heads else one for one in runs]
    if staged:
        runs[0], runs[1] = (replace(runs[k], print_name="p", garment="g", stage=k + 1, stages=2) for k in (0, 1))
    order = press_order(runs, heads=heads, trace=TRACE)
    assert order.exact
    assert order.tally.minutes == pytest.approx(_best_of_all(runs, heads))
    assert order.tally.minutes <= order.as_written.minutes + 1e-9
    assert sorted(step.run.print_name for step in order.steps) == sorted(r.print_name for r in runs)


@settings(max_examples=15, deadline=None)
@given(st.lists(RUN, min_size=4, max_size=6), st.integers(1, 3))
def test_no_order_is_slower_than_as_written_and_the_bound_holds(
    given_runs: list[tuple[list[int], str, str, float]], heads: int
) -> None:
    runs = [
        run(f"p{n}", f"g{n}", *(pull(screen, ink, end=end) for screen in screens), cloth=cloth)
        for n, (screens, ink, end, cloth) in enumerate(given_runs)
    ]
    runs = [replace(one, batch=4) if len(one.pulls) > heads else one for one in runs]
    quick = press_order(runs, heads=heads, trace=TRACE, most_states=5)
    whole = press_order(runs, heads=heads, trace=TRACE)
    assert quick.tally.minutes <= quick.as_written.minutes + 1e-9
    assert quick.least_min <= whole.tally.minutes + 1e-6
    assert least_minutes(blocks_of(runs), heads=heads, trace=TRACE) <= whole.tally.minutes + 1e-6
    for most in (5, 3000):
        least, _ = least_below(
            blocks_of(runs), heads=heads, trace=TRACE, most_min=whole.tally.minutes, most_states=most
        )
        assert least <= whole.tally.minutes + 1e-6
    assert fixed_minutes(runs, heads=heads, blades=True) <= whole.tally.minutes + 1e-6


@settings(max_examples=30, deadline=None)
@example({"black", "white"}, "red", {("white", "black"): 7.0, ("black", "white"): 7.0})  # not back by red
@given(
    st.sets(st.sampled_from(["white", "red", "black"]), min_size=1),
    st.sampled_from(["", "white", "red", "black"]),
    st.dictionaries(st.tuples(*[st.sampled_from(["white", "red", "black"])] * 2), st.floats(0, 40)),
)
def test_inks_of_a_screen_are_washed_out_in_the_cheapest_walk(
    used: set[str], now: str, trace: dict[tuple[str, str], float]
) -> None:
    """Against every walk of up to five of these inks."""
    walks = (walk for length in range(1, 6) for walk in product(sorted(used), repeat=length))
    best = float("inf")
    for walk in walks:
        inks = (now, *walk) if now else walk
        if used <= set(walk) | {now}:
            best = min(best, sum(wash_min(a, b, trace) for a, b in pairwise(inks) if a != b))
    if used == {now}:
        best = 0.0
    assert least_washes(now, used, trace) == pytest.approx(best)


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
