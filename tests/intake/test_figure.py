from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sepkit.intake.figure import one_ink
from sepkit.intake.proposal import one_colour, proposed_ink

BLACK, WHITE = (0, 0, 0), (255, 255, 255)
BLACK_TEE, WHITE_TEE, RED_TEE = (28, 28, 30), (244, 244, 242), (170, 25, 35)
SHELF = {"white": (255, 255, 255), "black": (26, 26, 28)}
DARK, LIGHT = {"ink_l": 5.0, "cloth_l": 95.0}, {"ink_l": 95.0, "cloth_l": 12.0}


def badge(figure: tuple[int, int, int], ground: tuple[int, int, int] | None) -> tuple[np.ndarray, np.ndarray]:
    """A ring with a bar in it, antialiased; on transparency without a ground."""
    big = Image.new("L", (1200, 960), 0)
    draw = ImageDraw.Draw(big)
    draw.ellipse((240, 120, 960, 840), fill=255)
    draw.ellipse((400, 280, 800, 680), fill=0)
    draw.rectangle((580, 300, 640, 660), fill=255)
    cover = np.asarray(big.resize((300, 240), Image.Resampling.BOX))
    if ground is None:
        return np.full((240, 300, 3), figure, np.uint8), cover
    share = cover[..., None] / 255
    return np.rint(np.array(figure) * share + np.array(ground) * (1 - share)).astype(np.uint8), np.full_like(cover, 255)


TRUTH = badge(BLACK, None)[1].astype(int)


@pytest.mark.parametrize("wear", [DARK, LIGHT])
@pytest.mark.parametrize(
    ("figure", "ground", "source"),
    [
        (BLACK, WHITE, "dark"),
        (WHITE, BLACK, "light"),
        ((20, 40, 90), (245, 238, 220), "dark"),
        (BLACK, None, "shape"),
        (WHITE, None, "shape"),
    ],
)
def test_the_figure_is_the_same_on_every_cloth(wear, figure, ground, source):
    made = one_ink(*badge(figure, ground), "auto", **wear)
    assert made.source == source
    assert np.abs(made.coverage - TRUTH).max() <= 10, "edges stay where they are"
    assert made.tone is None


def test_a_frame_along_the_border_is_no_ground():
    rgb, alpha = badge(BLACK, WHITE)
    rgb[:8] = rgb[-8:] = 0
    rgb[:, :8] = rgb[:, -8:] = 0
    made = one_ink(rgb, alpha, "auto", **DARK)
    assert made.source == "dark"
    assert "frame" in made.words


def test_art_cut_at_its_border_goes_by_area():
    rgb = np.full((100, 100, 3), 255, np.uint8)
    rgb[:, 20:50] = 0
    made = one_ink(rgb[:50, 15:], np.full((50, 85), 255, np.uint8), "auto", **LIGHT)
    assert made.source == "dark"


def test_two_colours_on_transparency_go_by_ink_and_cloth():
    rgb, alpha = badge(BLACK, None)
    rgb = rgb.copy()
    rgb[:, 150:] = 255
    assert one_ink(rgb, alpha, "auto", **LIGHT).source == "light"
    assert one_ink(rgb, alpha, "auto", **DARK).source == "dark"


def test_dark_and_light_are_what_is_asked_and_shape_is_all():
    rgb, alpha = badge(BLACK, WHITE)
    dark, light = (one_ink(rgb, alpha, source, **DARK).coverage.astype(int) for source in ("dark", "light"))
    assert np.abs(dark + light - 255).max() <= 1
    assert one_ink(rgb, alpha, "shape", **DARK).coverage.min() == 255


def test_tones_follow_the_cloth():
    rgb = np.repeat(np.arange(0, 256, 5, dtype=np.uint8)[None, :, None], 3, axis=2).repeat(4, axis=0)
    whole = np.full(rgb.shape[:2], 255, np.uint8)
    on_white = one_ink(rgb, whole, "tone", **DARK)
    on_black = one_ink(rgb, whole, "tone", **LIGHT)
    assert on_white.coverage[0, 0] == 255 and on_white.coverage[0, -1] == 0
    assert on_black.coverage[0, 0] == 0 and on_black.coverage[0, -1] == 255
    assert np.all(np.diff(on_white.coverage[0].astype(int)) <= 0)
    assert on_white.tone is not None and on_white.tone[0, 25]


def test_transparent_art_takes_no_ink():
    rgb, alpha = np.zeros((6, 6, 3), np.uint8), np.zeros((6, 6), np.uint8)
    assert not one_ink(rgb, alpha, "shape", **DARK).coverage.any()
    alpha[:3] = 255
    assert one_ink(rgb, alpha, "dark", **DARK).coverage[3:].max() == 0


@pytest.mark.parametrize(
    ("figure", "ground", "cloth", "dropped", "trouble", "ink"),
    [
        (BLACK, WHITE, BLACK_TEE, False, "box", "white"),
        (BLACK, WHITE, BLACK_TEE, True, "scratches", "white"),
        (BLACK, None, BLACK_TEE, False, "vanishes", "white"),
        (WHITE, BLACK, WHITE_TEE, False, "box", "black"),
        (WHITE, None, WHITE_TEE, False, "vanishes", "black"),
        (BLACK, WHITE, RED_TEE, False, "box", "black"),
        ((20, 40, 150), WHITE, RED_TEE, False, "box", "#142896"),
    ],
)
def test_an_ink_is_proposed_where_the_art_would_not_print_as_meant(figure, ground, cloth, dropped, trouble, ink):
    art = one_colour(*badge(figure, ground))
    assert art is not None
    found = proposed_ink(art, cloth, shelf=SHELF, dropped=dropped)
    assert found is not None
    assert (found.trouble, found.ink) == (trouble, ink)
    assert "--one-ink" in found.hint


@pytest.mark.parametrize(
    ("figure", "ground", "cloth", "dropped"),
    [
        (BLACK, WHITE, WHITE_TEE, False),
        (WHITE, (26, 26, 28), BLACK_TEE, False),
        (WHITE, None, BLACK_TEE, False),
        (BLACK, WHITE, RED_TEE, True),
    ],
)
def test_nothing_is_proposed_where_it_does(figure, ground, cloth, dropped):
    art = one_colour(*badge(figure, ground))
    assert art is not None
    assert proposed_ink(art, cloth, shelf=SHELF, dropped=dropped) is None


def test_art_of_several_colours_or_of_tones_is_not_of_one():
    rgb, alpha = badge(BLACK, WHITE)
    red = rgb.copy()
    red[20:60, 20:120] = (220, 30, 40)
    assert one_colour(red, alpha) is None
    ramp = np.repeat(np.linspace(0, 255, 300).astype(np.uint8)[None, :, None], 3, 2).repeat(50, 0)
    assert one_colour(ramp, np.full((50, 300), 255, np.uint8)) is None
