"""A print that may lie beside its place: spots there are not told as sure."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from sepkit.workshop.photo.inspect import is_adrift

WHY = "its place stays open by more than 0.12 mm"


@pytest.mark.parametrize(
    ("discs", "whys", "adrift"),
    [
        ((1, 2, 3), ("", WHY, WHY), True),
        ((1, 2, 3), ("", WHY, ""), False),
        ((), ("", WHY, WHY), False),  # films without discs: edges that hide each other are the usual case
        ((1,), ("",), False),  # one screen alone has nothing to lie off from
    ],
)
def test_nothing_agrees_though_there_are_discs(discs: tuple[int, ...], whys: tuple[str, ...], adrift: bool) -> None:
    subject = SimpleNamespace(discs=discs)
    fit = SimpleNamespace(
        screens=[SimpleNamespace(why=why) for why in whys], state=SimpleNamespace(reference=0, still=frozenset())
    )
    assert is_adrift(subject, fit) is adrift  # type: ignore[arg-type]


def test_a_screen_that_nothing_shows_of_does_not_disagree() -> None:
    screens = [SimpleNamespace(why=""), SimpleNamespace(why="nothing of it shows on what it prints on")]
    fit = SimpleNamespace(screens=screens, state=SimpleNamespace(reference=0, still=frozenset({1})))
    assert not is_adrift(SimpleNamespace(discs=(1, 2)), fit)  # type: ignore[arg-type]
