"""Screens and their order chosen together: nothing takes less time, by trying every sharing of screens."""

from __future__ import annotations

import random

import pytest

from sepkit.jobs import Blade, Screen
from sepkit.model import Mesh
from sepkit.press.gang.loads import loads_apart
from sepkit.press.gang.plan import GangPlan, gang_families
from sepkit.press.jobs import GangItem, GangRules
from sepkit.press.runs import Pull, Run
from sepkit.press.sequence import press_order
from sepkit.workshop.drop.gang_order import gang_order, screens_min

MESH = Mesh(55, 64)
FRAMES = [Screen("large", 533, 787, MESH, 9)]
TRACE = {("white", "cream"): 1.0, ("cream", "white"): 4.0}


def items_of(count: int, rng: random.Random) -> list[GangItem]:
    return [
        GangItem(
            f"p{n}",
            rng.choice([80.0, 150.0, 260.0]),
            rng.choice([60.0, 160.0, 330.0]),
            "white",
            MESH,
            ink=rng.choice(["white", "cream"]),
        )
        for n in range(count)
    ]


def runs_on(gang: GangPlan, items: list[GangItem]) -> list[Run]:
    """Each image is a print on two garments."""
    at = {placed.item.name: (screen, placed) for screen in gang.screens for placed in screen.placed}
    runs = []
    for item in items:
        screen, placed = at[item.name]
        taped = tuple(other.item.name for other in screen.placed if other is not placed)
        pull = Pull(screen.number, placed.end, item.name, item.ink, 330.0, 1, flash_after=False, taped=taped, blades=2)
        runs += [Run(item.name, "front", cloth, 10.0, 9, "body", (pull,), 1.0) for cloth in ("tee", "hoodie")]
    return runs


@pytest.mark.parametrize("seed", range(6))
def test_no_sharing_of_screens_takes_less_time(seed: int) -> None:
    rng = random.Random(seed)
    items = items_of(rng.randint(2, 4), rng)
    heads = rng.randint(1, 3)
    rules = GangRules(blades=(Blade(330),))
    found = gang_order(items, FRAMES, rules, lambda gang: runs_on(gang, items), heads=heads, trace=TRACE)
    families = gang_families(items, FRAMES, rules=rules)
    best = float("inf")
    for key in families.items:
        choices = families.choices(key)
        for count in range(1, len(items) + 1):
            for subsets in choices.partitions(count, most=1000):
                family = choices.laid_out(subsets, least=1)
                assert family is not None
                gang = families.with_plans({key: family})
                order = press_order(runs_on(gang, items), heads=heads, trace=TRACE)
                assert order.exact
                best = min(best, screens_min(gang) + order.tally.minutes)
    assert found.proven
    assert found.minutes == pytest.approx(best)


def test_films_of_one_load_lie_at_one_place_even_if_that_takes_a_screen_more() -> None:
    sizes = {"front": (250.0, 250.0), "back": (200.0, 330.0), "chest": (90.0, 90.0), "nape": (60.0, 60.0)}
    items = [
        GangItem(f"{load} {ink}", *size, "white", MESH, ink=ink, load=load)
        for load, size in sizes.items()
        for ink in ("white", "cream", "ivory")[: 2 if load == "nape" else 3]
    ]
    found = gang_order(items, FRAMES, GangRules(), lambda gang: runs_on(gang, items), heads=3, trace=TRACE)
    assert not loads_apart(found.gang.screens)
    assert sorted(p.item.name for s in found.gang.screens for p in s.placed) == sorted(item.name for item in items)
    assert len(found.gang.screens) < len(items)
