from __future__ import annotations

import numpy as np
import pytest

from sepkit.errors import ArtworkError, UsageError
from sepkit.model import InkRequest
from sepkit.separation.separate import separate
from tests.helpers.drawn_art import INKS, artwork, jpeg, lantern, picture, plate_of

AUTO = InkRequest()
BLACK_TEE = (26, 26, 28)
WHITE_TEE = (250, 250, 248)


@pytest.fixture(scope="module")
def cover():
    return lantern()


@pytest.mark.parametrize("space", ["encoded", "linear"])
def test_a_picture_made_of_known_plates_comes_back(cover, space):
    found = separate(artwork(picture(cover, space=space, ground=(255, 255, 255))), WHITE_TEE, AUTO)
    assert found.blend_space == space
    assert {a.srgb for a in found.areas} == set(INKS)
    for ink, truth in zip(INKS, cover, strict=True):
        error = np.abs(plate_of(found, ink).coverage / 255 - truth)
        assert (error > 0.02).sum() <= 1  # rounding to 8 bits; the moon's very tip has no neighbour of its ink


def test_edges_on_transparency_need_no_ground(cover):
    found = separate(artwork(picture(cover)), BLACK_TEE, AUTO)
    assert {a.srgb for a in found.areas} == set(INKS)
    for ink, truth in zip(INKS, cover, strict=True):
        assert np.abs(plate_of(found, ink).coverage / 255 - truth).max() < 0.02


def test_plates_sum_to_at_most_solid(cover):
    for rgba in (picture(cover), picture(cover, space="linear"), jpeg(picture(cover, ground=BLACK_TEE)[..., :3])):
        found = separate(artwork(rgba), BLACK_TEE, AUTO)
        assert sum(a.coverage.astype(int) for a in found.areas).max() <= 256  # two halves each round up


@pytest.mark.parametrize("turn", [np.flipud, np.fliplr, np.rot90])
def test_turning_the_art_turns_the_plates(cover, turn):
    rgba = picture(cover, ground=(255, 255, 255))
    straight = separate(artwork(rgba), WHITE_TEE, AUTO)
    turned = separate(artwork(np.ascontiguousarray(turn(rgba))), WHITE_TEE, AUTO)
    for area in straight.areas:
        difference = turn(area.coverage).astype(int) - plate_of(turned, area.srgb).coverage
        assert np.abs(difference).max() <= 1


def test_tiling_the_art_tiles_the_plates(cover):
    rgba = picture(cover)
    one = separate(artwork(rgba), BLACK_TEE, AUTO)
    four = separate(artwork(np.tile(rgba, (2, 2, 1))), BLACK_TEE, AUTO)
    for area in one.areas:
        assert np.array_equal(np.tile(area.coverage, (2, 2)), plate_of(four, area.srgb).coverage)


def test_an_unused_named_ink_changes_nothing_for_the_others(cover):
    art = artwork(picture(cover))
    names = tuple((f"ink {n}", ink) for n, ink in enumerate(INKS))
    without = separate(art, BLACK_TEE, InkRequest(named=names))
    with_it = separate(art, BLACK_TEE, InkRequest(named=(*names, ("violet", (130, 40, 160)))))
    assert [a.name for a in with_it.areas] == ["ink 0", "ink 1", "ink 2", "violet"]
    for one, other in zip(without.areas, with_it.areas, strict=False):
        assert np.array_equal(one.coverage, other.coverage)
    assert not with_it.areas[3].coverage.any()
    assert "unused-ink" in {f.code for f in with_it.findings}


def test_a_count_merges_to_the_least_visible_loss(cover):
    inks = ((200, 40, 45), (212, 60, 52), (25, 70, 150))
    found = separate(artwork(picture(cover, inks)), BLACK_TEE, InkRequest(count=2))
    both = cover[0] + cover[1]
    assert np.abs(plate_of(found, inks[0]).coverage / 255 - both).max() < 0.03
    assert "merged-colours" in {f.code for f in found.findings}


def test_a_lost_colour_near_the_cloth_is_left_to_the_cloth(cover):
    inks = ((240, 205, 70), (52, 26, 30), (30, 40, 66))
    (one,) = separate(artwork(picture(cover, inks)), BLACK_TEE, InkRequest(count=1)).areas
    assert np.abs(one.coverage / 255 - cover[0]).max() < 0.03, "dark colours stay cloth, they do not turn yellow"
    found = separate(artwork(picture(cover, inks)), BLACK_TEE, InkRequest(named=(("gold", (230, 200, 80)),)))
    assert np.abs(found.areas[0].coverage / 255 - cover[0]).max() < 0.03
    assert any("left open" in f.more for f in found.findings if f.code == "merged-colours")
    (white,) = separate(artwork(picture(cover, inks)), (244, 244, 242), InkRequest(count=1)).areas
    assert white.coverage[cover[1] > 0.999].min() > 230, "on a white tee they print"


def test_a_named_ink_prints_the_colour_that_is_nearest_to_it_however_far(cover):
    dark = ((60, 14, 20), (30, 40, 66), (240, 205, 70))
    found = separate(artwork(picture(cover, dark)), BLACK_TEE, InkRequest(named=(("red", (220, 40, 40)),)))
    assert found.areas[0].coverage.any()
    assert found.areas[0].srgb in dark


def test_more_inks_than_colours_is_said_not_faked(cover):
    found = separate(artwork(picture(cover)), BLACK_TEE, InkRequest(count=6))
    assert len(found.areas) == 3
    assert "fewer-colours" in {f.code for f in found.findings}


def test_garment_coloured_areas_never_get_ink_even_enclosed(cover):
    rgb = picture(cover, ground=BLACK_TEE)[..., :3]
    rgb[60:80, 70:90] = BLACK_TEE
    found = separate(artwork(rgb), BLACK_TEE, AUTO)
    bare = (rgb == np.array(BLACK_TEE)).all(axis=2)
    assert not sum(a.coverage.astype(int) for a in found.areas)[bare].any()
    place = next(f.place_mm for f in found.findings if f.code == "enclosed-open")
    assert 70 <= place[0] / 25.4 * 300 <= 90
    assert 60 <= place[1] / 25.4 * 300 <= 80


def test_white_art_on_transparency_is_an_ink(cover):
    white = separate(artwork(picture(cover[:1], ((255, 255, 255),))), BLACK_TEE, AUTO)
    assert [a.srgb for a in white.areas] == [(255, 255, 255)]
    assert np.abs(white.areas[0].coverage / 255 - cover[0]).max() < 0.01


def test_a_hairline_survives_with_its_width():
    y, x = np.mgrid[: 160 * 8, : 160 * 8].astype(np.float32) / 8
    line = np.abs((x - 20) * 0.31 - (y - 30)) / np.hypot(0.31, 1) < 0.65  # 1.3 px wide: 0.11 mm at 300 dpi
    line |= (x > 10) & (x < 30) & (y > 120) & (y < 140)
    disc = ((x - 80) ** 2 + (y - 115) ** 2 < 30**2) & ~line
    masks = np.stack([line, disc]).astype(np.float32).reshape(2, 160, 8, 160, 8).mean(axis=(2, 4))
    inks = ((30, 30, 30), (240, 190, 40))
    found = separate(artwork(picture(masks, inks, ground=(255, 255, 255))), (255, 255, 255), AUTO)
    plate = plate_of(found, inks[0]).coverage / 255
    assert plate.sum() == pytest.approx(masks[0].sum(), rel=0.03)
    assert (plate.max(axis=0) > 0.4).all()


def test_a_fill_buried_under_an_outline_of_the_same_edge_leaves_no_halo():
    y, x = np.mgrid[: 120 * 8, : 120 * 8].astype(np.float32) / 8
    disc = ((x - 60) ** 2 + (y - 60) ** 2 < 45**2).astype(np.float32).reshape(120, 8, 120, 8).mean(axis=(1, 3))
    hole = ((x - 60) ** 2 + (y - 60) ** 2 < 38**2).astype(np.float32).reshape(120, 8, 120, 8).mean(axis=(1, 3))
    fill, line = np.array((250, 215, 60.0)), np.array((20, 20, 20.0))
    alpha = 1 - (1 - disc) ** 2  # the fill, then the outline over it, both end on the same edge
    ring = disc * (1 - hole)
    paint = fill * (disc * (1 - ring))[..., None] + line * ring[..., None]
    rgb = np.where(alpha[..., None] > 0, paint / np.maximum(ring + disc * (1 - ring), 1e-6)[..., None], 0)
    rgba = np.dstack([np.rint(rgb), np.rint(255 * (ring + disc * (1 - ring)))]).astype(np.uint8)
    found = separate(artwork(rgba), (255, 255, 255), AUTO)
    outside = hole == 0
    assert plate_of(found, (250, 215, 60)).coverage[outside].max() < 0.05 * 255
    outer = (disc > 0) & (disc < 1)
    error = plate_of(found, (20, 20, 20)).coverage / 255 - disc
    assert np.abs(error[outer]).max() < 0.05


def test_jpeg_has_the_right_inks_and_no_specks(cover):
    rgb = jpeg(picture(cover, ground=(255, 255, 255))[..., :3])
    found = separate(artwork(rgb), (255, 255, 255), AUTO)
    assert len(found.areas) == 3
    for ink, truth in zip(INKS, cover, strict=True):
        plate = plate_of(found, ink).coverage / 255
        assert not plate[truth == 0][plate[truth == 0] > 0.5].any()
        assert plate.sum() == pytest.approx(truth.sum(), rel=0.02)


def test_enlarged_art_is_separated_on_its_own_grid(cover):
    from PIL import Image

    small = picture(cover, ground=(255, 255, 255))[..., :3]
    big = np.asarray(Image.fromarray(small).resize((small.shape[1] * 4, small.shape[0] * 4), Image.Resampling.BICUBIC))
    found = separate(artwork(big), (255, 255, 255), AUTO)
    assert {a.srgb for a in found.areas} == set(INKS)
    soft = next(f for f in found.findings if f.code == "soft-edges")
    assert "75 dpi" in soft.text
    assert "3.0x" in soft.hint


def test_a_gradient_is_a_tone_of_few_inks_beside_solid_flats():
    rgb = np.full((200, 400, 3), 255, np.uint8)
    ramp = np.linspace(0, 1, 360)[:, None]
    rgb[20:100, 20:380] = np.rint(np.array((190, 25, 30)) * (1 - ramp) + np.array((250, 220, 50)) * ramp)
    rgb[130:180, 40:360] = (20, 60, 150)
    found = separate(artwork(rgb), (255, 255, 255), AUTO)
    assert len(found.areas) <= 4
    blue = plate_of(found, (20, 60, 150))
    assert (blue.coverage[132:178, 42:358] == 255).all()
    tones = [a for a in found.areas if a.tone is not None]
    assert tones
    assert any(a.tone[60, 200] for a in tones)
    assert not any(a.tone[150, 200] for a in tones)


def test_soft_shadows_are_halftoned_dropped_or_solid():
    y, x = np.mgrid[:160, :160]
    alpha = np.clip(210 - 4.0 * np.maximum(np.hypot(y - 85, x - 85) - 40, 0), 0, 255)
    rgb = np.zeros((160, 160, 3))
    disc = np.hypot(y - 75, x - 75) < 40
    rgb[disc], alpha[disc] = (210, 40, 50), 255
    art = artwork(np.dstack([rgb, alpha]).astype(np.uint8))
    tone = separate(art, WHITE_TEE, AUTO, soft="tone")
    drop = separate(art, WHITE_TEE, AUTO, soft="drop")
    solid = separate(art, WHITE_TEE, AUTO, soft="solid")
    assert any(a.tone is not None for a in tone.areas)
    assert [a.srgb for a in drop.areas] == [(210, 40, 50)]
    assert {a.srgb for a in solid.areas} == {(210, 40, 50), (0, 0, 0)}
    assert all(a.tone is None for a in solid.areas)


@pytest.mark.parametrize("shape", [(1, 1), (2, 3), (1, 40), (40, 1)])
def test_tiny_art_is_one_ink(shape):
    found = separate(artwork(np.full((*shape, 3), (200, 30, 40))), BLACK_TEE, AUTO)
    assert [a.srgb for a in found.areas] == [(200, 30, 40)]
    assert found.areas[0].coverage.min() == 255


def test_all_transparent_art_is_refused():
    with pytest.raises(ArtworkError, match="transparent"):
        separate(artwork(np.zeros((9, 9, 4))), BLACK_TEE, AUTO)


@pytest.mark.parametrize(
    "request_",
    [
        InkRequest(count=0),
        InkRequest(count=99),
        InkRequest(count=2, named=(("red", (255, 0, 0)),)),
        InkRequest(named=(("red", (255, 0, 0)), ("red", (250, 0, 0)))),
    ],
)
def test_requests_that_make_no_sense_are_refused(request_):
    with pytest.raises(UsageError):
        separate(artwork(np.full((20, 20, 3), 90)), BLACK_TEE, request_)


def test_noise_of_any_kind_keeps_planes_and_types_whole():
    rng = np.random.default_rng(7)
    for _ in range(3):
        rgba = rng.integers(0, 256, (40, 50, 4)).astype(np.uint8)
        found = separate(artwork(rgba), BLACK_TEE, AUTO)
        assert found.areas
        assert len(found.areas) <= 8
        for area in found.areas:
            assert area.coverage.shape == (40, 50)
            assert area.coverage.dtype == np.uint8
            assert 0 <= area.confidence <= 1
        assert found.unexplained.shape == (40, 50)
