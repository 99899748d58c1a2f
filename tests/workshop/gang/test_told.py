"""Frames and prints as a person tells them."""

from __future__ import annotations

import pytest

from sepkit.errors import NotFoundError, UsageError
from sepkit.model import Mesh
from sepkit.workshop.gang.told import ANY_COUNT, UNTOLD_MESH, told_frame, told_prints


def test_a_frame_by_its_size_alone_takes_any_mesh() -> None:
    frame = told_frame("400x500mm")
    assert frame.mesh is None
    assert frame.screen.name == "400x500mm"
    assert (frame.screen.inside_width_mm, frame.screen.inside_height_mm) == (400, 500)
    assert frame.screen.count == ANY_COUNT


@pytest.mark.parametrize("text", ["large=533x737mm:43-80:2", "large = 533x737mm:2:43-80"])
def test_mesh_and_count_come_in_any_order(text: str) -> None:
    frame = told_frame(text)
    assert (frame.screen.name, frame.screen.count, frame.mesh) == ("large", 2, Mesh(43, 80))


def test_a_print_with_its_ink_and_mesh() -> None:
    (one,) = told_prints("back=320x380mm:white:55-64")
    assert (one.told_name, one.width_mm, one.height_mm, one.ink) == ("back", 320, 380, "white")
    assert one.mesh == Mesh(55, 64)
    (bare,) = told_prints("chest=9x8cm")
    assert (bare.ink, bare.mesh) == ("", None)
    item = bare.item(may_turn_90=True)
    assert (item.mesh, item.may_turn_90, item.load) == (UNTOLD_MESH, True, "")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("320x380mm", "has no name"),
        ("back=320x380mm:white:55-64:more", "has too many parts"),
        ("back=:white", "has no size"),
        ("back=nowhere", "neither a size nor a print folder"),
    ],
)
def test_what_no_print_is(text: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        told_prints(text)


def test_a_mesh_that_is_none() -> None:
    with pytest.raises((NotFoundError, UsageError)):
        told_frame("400x500mm:9-9")
