"""Prints on screens: nothing collides, nothing is mixed, and no plan has fewer screens."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.jobs import Blade, Screen
from sepkit.model import Mesh
from sepkit.press.gang import search as gang_search
from sepkit.press.gang.layout import BLADE_TO_FRAME_MM, PLATEN_EDGE_MM
from sepkit.press.gang.loads import REACH_MM
from sepkit.press.gang.plan import gang_screens
from sepkit.press.jobs import GangItem, GangRules, PlacedItem, ScreenPlan

COARSE, FINE = Mesh(43, 80), Mesh(77, 55)
FRAME = Screen("frame", 400, 500, COARSE, 9)
LARGE = Screen("large frame", 530, 740, COARSE, 9)


def item(name: str, width: float, height: float, family: str = "white", mesh: Mesh = COARSE) -> GangItem:
    return GangItem(name, width, height, family, mesh)


SIZES = st.tuples(st.integers(2, 30), st.integers(2, 30)).map(lambda s: (s[0] * 10.0, s[1] * 10.0))


@st.composite
def jobs(draw: st.DrawFn, most: int = 8) -> list[GangItem]:
    sizes = draw(st.lists(SIZES, min_size=1, max_size=most))
    families = draw(st.lists(st.sampled_from(["white", "black"]), min_size=len(sizes), max_size=len(sizes)))
    meshes = draw(st.lists(st.sampled_from([COARSE, FINE]), min_size=len(sizes), max_size=len(sizes)))
    quarters = draw(st.lists(st.booleans(), min_size=len(sizes), max_size=len(sizes)))
    return [
        GangItem(f"print {k}", *size, family, mesh, may_turn_90=quarter)
        for k, (size, family, mesh, quarter) in enumerate(zip(sizes, families, meshes, quarters, strict=True))
    ]


def clear_of(a: PlacedItem, b: PlacedItem, rules: GangRules) -> bool:
    """Tape lane between two prints, or lane and blade room when they lie side by side."""

    def over(p: PlacedItem) -> float:
        return (p.blade_mm - p.width_mm) / 2 if p.blade_mm else rules.blade_over_mm

    beside = max(rules.lane_mm, over(a) + rules.blade_clear_mm, over(b) + rules.blade_clear_mm)
    gap_x = max(a.x_mm - b.x_mm - b.width_mm, b.x_mm - a.x_mm - a.width_mm)
    gap_y = max(a.y_mm - b.y_mm - b.height_mm, b.y_mm - a.y_mm - a.height_mm)
    return gap_x >= beside - 0.02 or gap_y >= rules.lane_mm - 0.02


def check_screen(plan: ScreenPlan, rules: GangRules) -> None:
    width, height = plan.screen.inside_width_mm, plan.screen.inside_height_mm
    for a, b in itertools.combinations(plan.placed, 2):
        assert clear_of(a, b, rules)
    for p in plan.placed:
        assert p.item.mesh == plan.mesh == plan.screen.mesh
        assert p.item.ink_family == plan.ink_family
        assert p.x_mm >= rules.edge_mm - 0.01
        assert p.x_mm + p.width_mm <= width - rules.edge_mm + 0.01
        assert p.y_mm >= rules.ends_mm - 0.01
        assert p.y_mm + p.height_mm <= height - rules.ends_mm + 0.01
        size = (p.item.width_mm, p.item.height_mm)
        assert (p.width_mm, p.height_mm) == (size if p.rotation % 180 == 0 else size[::-1])
        assert p.rotation % 180 == 0 or p.item.may_turn_90
        assert (p.end == "B") == (p.rotation >= 180)
        # As the press sees it: turned about the frame's middle, (x, y) is at (-x, -y).
        x, y = p.x_mm + p.width_mm / 2 - width / 2, p.y_mm + p.height_mm / 2 - height / 2
        if p.end == "B":
            x, y = -x, -y
        assert p.shift_mm == pytest.approx(x, abs=0.02)
        if p.blade_mm:
            middle = p.x_mm + p.width_mm / 2
            assert middle - p.blade_mm / 2 >= BLADE_TO_FRAME_MM - 0.02
            assert middle + p.blade_mm / 2 <= width - BLADE_TO_FRAME_MM + 0.02
            assert p.blade_mm >= p.width_mm + 2 * rules.blade_over_mm - 0.02
        if rules.platen_reach_mm is not None:
            assert height / 2 + y + p.height_mm / 2 <= rules.platen_reach_mm + 0.02
        if rules.platen_width_mm is not None:
            assert abs(x) + p.width_mm / 2 <= rules.platen_width_mm / 2 - PLATEN_EDGE_MM + 0.02


RULES = st.builds(
    GangRules,
    lane_mm=st.sampled_from([30.0, 50.0, 75.0]),
    edge_mm=st.sampled_from([40.0, 60.0]),
    platen_reach_mm=st.sampled_from([None, 300.0, 420.0, 500.0]),
    platen_width_mm=st.sampled_from([None, 330.0, 450.0]),
    blades=st.sampled_from([(), (Blade(110), Blade(220), Blade(330)), (Blade(150),)]),
)


@given(jobs(), RULES)
@settings(max_examples=60, deadline=None)
def test_every_print_is_placed_once_and_keeps_clear(items: list[GangItem], rules: GangRules) -> None:
    screens = [FRAME, LARGE, replace(LARGE, name="fine frame", mesh=FINE)]
    plan = gang_screens(items, screens, rules=rules)
    placed = sorted([p.item.name for s in plan.screens for p in s.placed] + [i.name for i in plan.left_out])
    assert placed == sorted(i.name for i in items)
    assert len(plan.left_out) == sum(f.level == "error" for f in plan.findings)
    assert [s.number for s in plan.screens] == list(range(1, len(plan.screens) + 1))
    for screen in plan.screens:
        check_screen(screen, rules)


@given(jobs(most=6), st.randoms())
@settings(max_examples=40, deadline=None)
def test_the_order_of_the_input_changes_nothing(items: list[GangItem], random: object) -> None:
    screens = [FRAME, LARGE, replace(LARGE, name="fine frame", mesh=FINE)]
    shuffled = list(items)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert gang_screens(shuffled, screens[::-1]) == gang_screens(items, screens)


def fits_by_brute_force(sizes: list[tuple[float, float]], room: tuple[float, float], lane: float) -> bool:
    """Try every place to which prints can be pushed left and up: sums of some of the others with their lanes."""
    n = len(sizes)

    def sums(axis: int, but: int) -> list[float]:
        others = [sizes[k][axis] + lane for k in range(n) if k != but]
        return sorted({sum(c) for r in range(n) for c in itertools.combinations(others, r)})

    places = [
        [(x, y) for x in sums(0, k) if x + sizes[k][0] <= room[0] for y in sums(1, k) if y + sizes[k][1] <= room[1]]
        for k in range(n)
    ]

    def rest(done: list[tuple[float, float, float, float]]) -> bool:
        k = len(done)
        if k == n:
            return True
        w, h = sizes[k]
        for x, y in places[k]:
            clear = all(
                x + w + lane <= a or a + c + lane <= x or y + h + lane <= b or b + d + lane <= y for a, b, c, d in done
            )
            if clear and rest([*done, (x, y, w, h)]):
                return True
        return False

    return rest([])


def partitions(things: list[int]) -> list[list[list[int]]]:
    if not things:
        return [[]]
    out = []
    for part in partitions(things[1:]):
        out.append([[things[0]], *part])
        out += [[*part[:k], [things[0], *part[k]], *part[k + 1 :]] for k in range(len(part))]
    return out


@given(st.lists(SIZES, min_size=2, max_size=5))
@settings(max_examples=60, deadline=None)
def test_no_plan_has_fewer_screens(sizes: list[tuple[float, float]]) -> None:
    """Every partition, every arrangement of pushed-together prints: the long way to the same number."""
    room = (FRAME.inside_width_mm - 120, FRAME.inside_height_mm - 160)
    sizes = [(min(w, room[0]), min(h, room[1])) for w, h in sizes]
    known: dict[tuple[int, ...], bool] = {}

    def fits(group: list[int]) -> bool:
        key = tuple(sorted(group))
        if key not in known:
            known[key] = fits_by_brute_force([sizes[k] for k in key], room, 50.0)
        return known[key]

    fewest = min(len(p) for p in partitions(list(range(len(sizes)))) if all(fits(g) for g in p))
    plan = gang_screens([item(f"p{k}", *s) for k, s in enumerate(sizes)], [FRAME])
    assert len(plan.screens) == fewest
    assert plan.proven
    assert all(s.least_screens == fewest for s in plan.screens)


def test_a_pinwheel_that_no_cut_divides_is_found() -> None:
    """Four prints around a fifth: no straight cut through the screen parts them."""
    long, short, lane = 160.0, 60.0, 50.0
    sizes = [(long, short), (short, long), (long, short), (short, long), (50.0, 50.0)]
    side = long + lane + short
    frame = Screen("square", side + 120, side + 160, COARSE)
    plan = gang_screens([item(f"p{k}", *s) for k, s in enumerate(sizes)], [frame])
    assert len(plan.screens) == 1
    check_screen(plan.screens[0], GangRules())
    tight = replace(frame, inside_width_mm=frame.inside_width_mm - 0.1, count=2)
    assert len(gang_screens([item(f"p{k}", *s) for k, s in enumerate(sizes)], [tight]).screens) == 2


def test_what_was_not_searched_to_the_end_is_not_called_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = [(190, 140), (180, 260), (120, 170), (90, 100), (150, 230), (90, 190)]
    items = [item(f"p{k}", *s) for k, s in enumerate(sizes)]
    proven = gang_screens(items, [LARGE])
    assert (len(proven.screens), proven.proven) == (2, True)
    monkeypatch.setattr(gang_search, "NODES_PER_SUBSET", 1)
    monkeypatch.setattr(gang_search, "NODES_AT_LEAST", 1)
    plan = gang_screens(items, [LARGE])
    assert not plan.proven
    assert [s.least_screens for s in plan.screens] == [1] * len(plan.screens)
    assert [f.code for f in plan.findings if f.code == "not-proven"] == ["not-proven"]
    for screen in plan.screens:
        check_screen(screen, GangRules())


def test_a_column_of_prints_lies_on_the_centre_line_with_wide_lanes() -> None:
    plan = gang_screens([item("chest", 90, 80), item("sleeve", 80, 80), item("label", 60, 50)], [FRAME])
    (screen,) = plan.screens
    assert [p.shift_mm for p in screen.placed] == [0, 0, 0]
    gaps = [b.y_mm - a.y_mm - a.height_mm for a, b in itertools.pairwise(screen.placed)]
    assert gaps == pytest.approx([65, 65], abs=0.02)  # (500 - 160 - 210) / 2


def test_a_print_beyond_the_reach_of_the_platen_is_used_with_the_frame_turned() -> None:
    rules = GangRules(platen_reach_mm=505)
    plan = gang_screens([item("back", 320, 380), item("chest", 90, 80)], [LARGE], rules=rules)
    (screen,) = plan.screens
    check_screen(screen, rules)
    assert sorted((p.end, p.rotation) for p in screen.placed) == [("A", 0), ("B", 180)]
    free = gang_screens([item("back", 320, 380), item("chest", 90, 80)], [LARGE])
    assert {p.end for p in free.screens[0].placed} == {"A"}


def test_a_quarter_turn_only_where_the_print_allows_it() -> None:
    across = item("sleeve", 340, 70)
    assert gang_screens([across], [FRAME]).left_out == (across,)
    (screen,) = gang_screens([replace(across, may_turn_90=True)], [FRAME]).screens
    assert screen.placed[0].rotation == 90
    (straight,) = gang_screens([replace(across, width_mm=200, may_turn_90=True)], [FRAME]).screens
    assert straight.placed[0].rotation == 0


@pytest.mark.parametrize("others", [1, 3])
def test_films_of_one_load_are_on_different_screens(others: int) -> None:
    base = GangItem("badge/base", 80, 80, "light", COARSE, load="badge")
    colour = GangItem("badge/yellow", 80, 80, "light", COARSE, load="badge")
    labels = [item(f"label {k}", 60, 50, "light") for k in range(others)]
    plan = gang_screens([base, colour, *labels], [LARGE])
    assert len(plan.screens) == 2
    assert plan.proven
    assert plan.saved == others
    for screen in plan.screens:
        assert sum(p.item.load == "badge" for p in screen.placed) == 1


def at_press(placed: PlacedItem, plan: ScreenPlan) -> tuple[float, float]:
    """Centre seen from the frame's middle with the print's end at the clamp; y from the clamp."""
    x = placed.x_mm + placed.width_mm / 2 - plan.screen.inside_width_mm / 2
    if placed.end == "A":
        return x, placed.y_mm
    return -x, plan.screen.inside_height_mm - placed.y_mm - placed.height_mm


@pytest.mark.parametrize("reach", [None, 505.0])
@pytest.mark.parametrize("frame", [LARGE, replace(LARGE, inside_height_mm=800, name="long frame")])
def test_films_of_one_load_meet_on_the_platen(reach: float | None, frame: Screen) -> None:
    """The white screen is full, the red one holds two prints: they lie where the white ones lie."""
    rules = GangRules(platen_reach_mm=reach)
    base = [GangItem(f"{n}/base", w, h, "white", COARSE, load=n) for n, w, h in [("back", 320, 380), ("chest", 90, 80)]]
    red = [replace(i, name=f"{i.load}/red", ink_family="red", mesh=FINE) for i in base]
    plan = gang_screens(
        [*base, *red, item("label", 60, 50)], [frame, replace(LARGE, name="fine", mesh=FINE)], rules=rules
    )
    assert len(plan.screens) == 2
    assert [f.code for f in plan.findings if f.level != "info"] == []
    for load in ("back", "chest"):
        spots = [at_press(p, s) for s in plan.screens for p in s.placed if p.item.load == load]
        assert spots[0] == pytest.approx(spots[1], abs=0.02)
    for screen in plan.screens:
        check_screen(screen, rules)


@given(st.lists(st.tuples(SIZES, st.integers(0, 2)), min_size=1, max_size=5), RULES)
@settings(max_examples=40, deadline=None)
def test_loads_meet_or_are_told_to_be_apart(prints: list[tuple[tuple[float, float], int]], rules: GangRules) -> None:
    """Prints of one to three films each, every film of a print in another ink."""
    items = [
        GangItem(f"p{k}/{ink}", w, h, ink, mesh, load=f"p{k}")
        for k, ((w, h), more) in enumerate(prints)
        for ink, mesh in [("white", COARSE), ("red", FINE), ("blue", FINE)][: more + 1]
    ]
    plan = gang_screens(items, [LARGE, replace(LARGE, name="fine frame", mesh=FINE)], rules=rules)
    told = {f.text.split()[3] for f in plan.findings if f.code == "load-apart"}
    for screen in plan.screens:
        check_screen(screen, rules)
    spots: dict[str, list[tuple[float, float]]] = {}
    for screen in plan.screens:
        for p in screen.placed:
            spots.setdefault(p.item.load, []).append(at_press(p, screen))
    for load, places in spots.items():
        gap = max(max(v) - min(v) for v in zip(*places, strict=True))
        assert (gap > REACH_MM + 0.02) <= (load in told)
        assert (gap < REACH_MM - 0.02) <= (load not in told)


def test_films_that_cannot_meet_are_told() -> None:
    """Two bases fill one frame side by side; the other ink's only frame is too narrow to hold its film off-centre."""
    wide = Screen("wide", 560, 420, COARSE)
    narrow = Screen("narrow", 330, 420, FINE, 2)
    base = [GangItem(f"{n}/base", 180, 240, "white", COARSE, load=n) for n in "ab"]
    top = [GangItem(f"{n}/top", 180, 240, "red", FINE, load=n) for n in "ab"]
    plan = gang_screens([*base, *top], [wide, narrow])
    assert len(plan.screens) == 3
    assert [f.code for f in plan.findings if f.level == "warn"] == ["load-apart", "load-apart"]


def test_a_turned_print_off_the_centre_line_is_off_to_the_other_side() -> None:
    rules = GangRules(platen_reach_mm=400)
    (screen,) = gang_screens([item(f"p{k}", 180, 240) for k in range(4)], [LARGE], rules=rules).screens
    check_screen(screen, rules)
    turned = [p for p in screen.placed if p.end == "B"]
    assert len(turned) == 2
    for p in turned:
        on_frame = p.x_mm + p.width_mm / 2 - LARGE.inside_width_mm / 2
        assert p.shift_mm == pytest.approx(-on_frame, abs=0.02)
        assert abs(on_frame) > 100


def test_the_blade_stays_clear_of_the_neighbour() -> None:
    rules = GangRules(blades=(Blade(180), Blade(300)))
    plan = gang_screens([item("left", 60, 300), item("right", 60, 300)], [LARGE], rules=rules)
    (screen,) = plan.screens
    a, b = sorted(screen.placed, key=lambda p: p.x_mm)
    assert (a.blade_mm, b.blade_mm) == (180, 180)
    assert a.x_mm + a.width_mm / 2 + 180 / 2 + rules.blade_clear_mm <= b.x_mm + 0.02
    assert a.x_mm + a.width_mm / 2 - 180 / 2 >= BLADE_TO_FRAME_MM - 0.02
    none = gang_screens([item("wide", 290, 300)], [LARGE], rules=rules)
    assert [f.code for f in none.findings] == ["no-blade"]


def test_too_few_frames_is_told_and_stock_is_kept_where_it_can_be() -> None:
    one_each = [replace(FRAME, count=1), replace(LARGE, count=1)]
    whites, blacks = item("w", 200, 300), item("b", 200, 300, "black")
    plan = gang_screens([whites, blacks], one_each)
    assert sorted(s.screen.name for s in plan.screens) == ["frame", "large frame"]
    assert not plan.findings
    short = gang_screens([whites, blacks], one_each[:1])
    assert [f.code for f in short.findings] == ["too-few-frames"]
    assert len(short.screens) == 2


@pytest.mark.parametrize(
    ("items", "screens", "rules", "words"),
    [
        ([], [FRAME], GangRules(), "no prints"),
        ([item("a", 50, 50)], [], GangRules(), "no screens"),
        ([item("a", 50, 50), item("a", 60, 50)], [FRAME], GangRules(), "given twice"),
        ([item("a", 50, float("nan"))], [FRAME], GangRules(), "outside"),
        ([item("a", -5, 50)], [FRAME], GangRules(), "outside"),
        ([item("a", 50, 50)], [replace(FRAME, count=0)], GangRules(), "none"),
        ([item("a", 50, 50)], [FRAME], GangRules(lane_mm=-1), "outside"),
    ],
)
def test_senseless_input_is_one_clear_line(
    items: list[GangItem], screens: list[Screen], rules: GangRules, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        gang_screens(items, screens, rules=rules)


@pytest.mark.parametrize(
    ("one", "rules", "code", "words"),
    [
        (item("back", 380, 420), GangRules(), "larger-than-every-screen", "500 x 580 mm"),
        (item("back", 250, 250, mesh=FINE), GangRules(), "no-frame-of-mesh", "43-80"),
        (item("back", 250, 250), GangRules(platen_width_mm=280), "wider-than-platen", "wider platen"),
        (item("back", 250, 250), GangRules(platen_reach_mm=300), "beyond-platen", "longer platen"),
    ],
)
def test_a_print_that_fits_nowhere_is_told_with_what_would_do(
    one: GangItem, rules: GangRules, code: str, words: str
) -> None:
    plan = gang_screens([one, item("label", 60, 50)], [FRAME], rules=rules)
    (finding,) = plan.findings
    assert (finding.code, finding.level) == (code, "error")
    assert "back" in finding.text
    assert words in finding.hint
    assert plan.left_out == (one,)
    assert len(plan.screens) == 1


def test_many_prints_beyond_the_exact_search_still_keep_every_rule() -> None:
    items = [item(f"p{k}", 40 + 13 * (k % 7), 40 + 17 * (k % 5)) for k in range(14)]
    plan = gang_screens(items, [FRAME])
    for screen in plan.screens:
        check_screen(screen, GangRules())
        assert len(plan.screens) >= screen.least_screens
        assert screen.exact == (len(plan.screens) == screen.least_screens)
    assert sum(len(s.placed) for s in plan.screens) == 14


def test_a_grid_of_small_prints_fills_one_screen() -> None:
    """Four rows of three with their lanes just fit; a thirteenth print does not."""
    frame = Screen("grid", 3 * 60 + 2 * 50 + 120, 4 * 50 + 3 * 50 + 160, COARSE)
    items = [item(f"label {k}", 60, 50) for k in range(12)]
    (screen,) = gang_screens(items, [frame]).screens
    check_screen(screen, GangRules())
    assert len(gang_screens([*items, item("label 12", 60, 50)], [replace(frame, count=2)]).screens) == 2
