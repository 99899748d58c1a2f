"""The drawing of a screen: prints where they lie, turned as they lie, tape where it belongs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.preview.screen_drawing import (
    ENDS,
    TAPE,
    TAPE_LINE,
    WIDTH_PX,
    DrawnPrint,
    DrawnScreen,
    DrawnStep,
    draw_screen,
)

RED = (214, 30, 40)
MAGENTA = (200, 20, 160)


def drawn(*prints: DrawnPrint, steps: tuple[DrawnStep, ...] = ()) -> DrawnScreen:
    return DrawnScreen("Screen 1", "frame", 400, 500, 60, 80, prints, steps)


def one(
    name: str = "back", x: float = 100, y: float = 120, w: float = 200, h: float = 100, **more: object
) -> DrawnPrint:
    values = {"rotation": 0, "end": "A", "srgb": RED, **more}
    return DrawnPrint(name, x, y, w, h, **values)  # type: ignore[arg-type]


def where(picture: np.ndarray, rgb: tuple[int, int, int]) -> np.ndarray:
    """Pixels of a colour; edges blend and are left out."""
    return (np.abs(picture.astype(int) - rgb) <= 3).all(axis=2)


def box_of(mask: np.ndarray) -> tuple[int, int, int, int]:
    rows, columns = np.nonzero(mask)
    return columns.min(), rows.min(), columns.max() + 1, rows.max() + 1


def test_prints_lie_in_proportion_and_in_the_right_place() -> None:
    chip = 20 * 20  # the table shows the ink in a small chip, below the frame
    picture = draw_screen(
        drawn(
            one(coverage=np.full((50, 100), 255, np.uint8)),
            one("label", 150, 300, 60, 50, srgb=MAGENTA, coverage=np.full((50, 60), 255, np.uint8)),
        )
    )
    assert picture.shape[1] == WIDTH_PX
    assert picture.dtype == np.uint8
    frame_end = 118 + 930
    a, b = (box_of(where(picture[:frame_end], colour)) for colour in (RED, MAGENTA))
    scale = (a[2] - a[0]) / 200
    assert (a[2] - a[0]) * (a[3] - a[1]) > chip
    assert (a[3] - a[1]) / scale == pytest.approx(100, abs=3)
    assert ((b[0] - a[0]) / scale, (b[1] - a[1]) / scale) == pytest.approx((50, 180), abs=3)


@pytest.mark.parametrize(("rotation", "corner"), [(0, (0, 0)), (90, (0, 1)), (180, (1, 1)), (270, (1, 0))])
def test_the_picture_is_turned_clockwise_as_it_lies(rotation: int, corner: tuple[int, int]) -> None:
    """A print inked in its upright top left quarter only."""
    coverage = np.zeros((80, 80), np.uint8)
    coverage[:40, :40] = 255
    picture = draw_screen(drawn(one(w=150, h=150, rotation=rotation, coverage=coverage)))[: 118 + 930]
    full = draw_screen(drawn(one(w=150, h=150, coverage=np.full((80, 80), 255, np.uint8))))[: 118 + 930]
    left, top, right, low = box_of(where(full, RED))
    inked = box_of(where(picture, RED))
    middle = ((inked[0] + inked[2]) / 2, (inked[1] + inked[3]) / 2)
    assert (middle[1] > (top + low) / 2, middle[0] > (left + right) / 2) == (bool(corner[0]), bool(corner[1]))


def test_a_step_shows_tape_on_all_but_the_open_print() -> None:
    prints = (one("a"), one("b", 150, 300, 60, 50))
    none = draw_screen(drawn(*prints, steps=(DrawnStep("a", (), "A", ("end A at the clamp",)),)))
    taped = draw_screen(drawn(*prints, steps=(DrawnStep("a", ("b",), "A", ("end A at the clamp",)),)))

    def tape(picture: np.ndarray) -> int:
        return int((where(picture, TAPE) | where(picture, TAPE_LINE)).sum())

    assert tape(none) == 0
    assert tape(taped) > 50


def test_a_turned_frame_shows_the_open_print_at_its_opposite_place() -> None:
    """The small frame of a step stands as at the press: with end B at the clamp the print is at (-x, -y)."""
    low = one("low", 140, 300, 120, 100, rotation=180, end="B")

    def ring(end: str) -> float:
        picture = draw_screen(drawn(replace(low, end=end), steps=(DrawnStep("low", (), end, ()),)))
        card = picture[:, WIDTH_PX - 456 :]
        rows = np.nonzero(where(card, ENDS[end]).sum(axis=1) > 20)[0]
        return float(rows.mean())

    assert ring("B") < ring("A") - 20


def test_many_steps_make_two_columns_and_nothing_is_cut_off() -> None:
    prints = tuple(one(f"p{k}", 70 + 40 * k, 90 + 55 * k, 30, 30) for k in range(6))
    steps = tuple(DrawnStep(p.name, tuple(o.name for o in prints if o is not p), "A", ("blade",) * 6) for p in prints)
    picture = draw_screen(drawn(*prints, steps=steps))
    border = np.concatenate(
        [picture[-12:].reshape(-1, 3), picture[:, -6:].reshape(-1, 3), picture[:, :6].reshape(-1, 3)]
    )
    assert (border == picture[0, 0]).all()


def test_names_of_any_length_and_script_are_drawn() -> None:
    names = ("a" * 300, "Ünïcödé étiquette", "看板 back", "")
    for name in names:
        assert draw_screen(drawn(one(name), steps=(DrawnStep(name, (), "A", ("x" * 200,)),))).shape[1] == WIDTH_PX
