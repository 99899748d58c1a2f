"""Films of whole screens: turned art, tiles, one phase of dots, true size."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sepkit.film.page import FilmPage
from sepkit.film.rows import Film, FilmSettings, plan_film
from sepkit.jobs import FilmPrinter, Screen
from sepkit.model import Halftone, Mesh
from sepkit.press.jobs import GangItem, PlacedItem, Rotation, ScreenPlan
from sepkit.press.sheet import Sheet
from sepkit.workshop.gang.screen_films import ScreenImage, ScreenLayout, sheet_of, turned_plane, write_screen_films

MESH = Mesh(43, 80)
FRAME = Screen("frame", 300, 400, MESH)
DPI = 254.0


def picture(width: int, height: int, seed: int) -> np.ndarray:
    """Blocks of ink, with no symmetry to hide a wrong turn."""
    rng = np.random.default_rng(seed)
    return np.kron(rng.integers(0, 2, (height // 5, width // 5)).astype(np.uint8) * 255, np.ones((5, 5), np.uint8))


def placed(name: str, x: float, y: float, w: float, h: float, rotation: Rotation) -> PlacedItem:
    item = GangItem(name, *((w, h) if rotation % 180 == 0 else (h, w)), "white", MESH)
    return PlacedItem(item, x, y, w, h, rotation, "B" if rotation >= 180 else "A")


def screen_of(*items: PlacedItem) -> ScreenPlan:
    return ScreenPlan(1, FRAME, MESH, "white", items)


def image(width_mm: float, height_mm: float, seed: int = 1) -> ScreenImage:
    coverage = picture(round(width_mm) * 5, round(height_mm) * 5, seed)
    return ScreenImage(coverage, None, None, width_mm, height_mm, FilmSettings(dpi=DPI))


def bits_of(film: Film) -> np.ndarray:
    return np.concatenate([np.unpackbits(rows, axis=1, count=film.width_px) for rows in film.bands()]).astype(bool)


def rows_of(page: FilmPage) -> np.ndarray:
    """Draw all films of a page."""
    out = np.zeros((page.height_px, page.width_px), bool)
    for one in page.films:
        film = one.film
        out[one.y_px : one.y_px + film.height_px, one.x_px : one.x_px + film.width_px] |= bits_of(film)
    return out


def alone(one: ScreenImage, rotation: int) -> np.ndarray:
    """The film of a print by itself, its bits turned afterwards."""
    film = plan_film(
        one.coverage, one.tone, one.halftone, width_mm=one.width_mm, height_mm=one.height_mm, settings=one.settings
    )
    return np.rot90(bits_of(film), -rotation // 90)


@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_art_is_turned_clockwise_and_never_mirrored(rotation: Rotation) -> None:
    one = image(60, 40)
    w, h = (60, 40) if rotation % 180 == 0 else (40, 60)
    (page,) = ScreenLayout(screen_of(placed("a", 100, 120, w, h, rotation)), {"a": one}).pages()
    (film,) = page.films
    bits = rows_of(page)[film.y_px :, film.x_px :][: film.film.height_px, : film.film.width_px]
    expected = alone(one, rotation)
    assert bits.shape == expected.shape
    assert (bits != expected).mean() < 0.003  # edges of blocks may fall to either side by a pixel
    for wrong in (expected[:, ::-1], expected[::-1]):
        assert (bits != wrong).mean() > 0.2


def test_a_turned_print_reads_upright_when_the_film_is_turned() -> None:
    """Turning the whole film by 180 degrees puts the print used with end B at (-x, -y), upright."""
    a, b = image(100, 60), image(50, 40, seed=2)
    plan = screen_of(placed("a", 100, 100, 100, 60, 0), placed("b", 140, 240, 50, 40, 180))
    (page,) = ScreenLayout(plan, {"a": a, "b": b}).pages()
    second = page.films[1]
    turned = rows_of(page)[::-1, ::-1]
    x = page.width_px - second.x_px - second.film.width_px
    y = page.height_px - second.y_px - second.film.height_px
    there = turned[y : y + second.film.height_px, x : x + second.film.width_px]
    assert (there != alone(b, 0)).mean() < 0.003


def test_tiles_carry_the_same_bits_as_the_whole_film() -> None:
    halftone = Halftone(30, 22.5, "round")
    coverage = np.tile(np.linspace(0, 255, 300).astype(np.uint8), (400, 1))
    tone = np.ones(coverage.shape, bool)
    images = {
        "a": ScreenImage(coverage, tone, halftone, 150, 200, FilmSettings(dpi=DPI)),
        "b": image(60, 40),
    }
    plan = screen_of(placed("a", 75, 60, 150, 200, 180), placed("b", 120, 310, 60, 40, 0))
    whole = ScreenLayout(plan, images)
    cut = ScreenLayout(plan, images, sheet=Sheet("small", 150, 210))
    assert len(cut.tiles) > 2
    (tile,), (page,) = whole.tiles, whole.pages()
    bits = rows_of(page)[tile.place.art_y_px :, tile.place.art_x_px :][: tile.height_px, : tile.width_px]
    dx, dy = (a - b for a, b in zip(cut.origin_px, whole.origin_px, strict=True))
    seen = np.zeros_like(bits)
    for tile, page in zip(cut.tiles, cut.pages(), strict=True):
        part = rows_of(page)[tile.place.art_y_px :, tile.place.art_x_px :][: tile.height_px, : tile.width_px]
        x, y = tile.x_px + dx, tile.y_px + dy
        np.testing.assert_array_equal(part, bits[y : y + tile.height_px, x : x + tile.width_px])
        seen[y : y + tile.height_px, x : x + tile.width_px] = True
    assert seen[bits].all()


def test_prints_of_one_screen_share_one_phase_of_dots() -> None:
    """Two tints cut from one field of dots: as if the whole screen were one tint."""
    halftone = Halftone(30, 22.5, "round")
    tint = np.full((100, 100), 110, np.uint8)
    images = {
        name: ScreenImage(tint, np.ones(tint.shape, bool), halftone, 50, 50, FilmSettings(dpi=DPI)) for name in "ab"
    }
    plan = screen_of(placed("a", 70, 90, 50, 50, 0), placed("b", 173.3, 201.7, 50, 50, 180))
    (page,) = ScreenLayout(plan, images).pages()
    field = plan_film(
        np.full((10, 10), 110, np.uint8),
        np.ones((10, 10), bool),
        halftone,
        width_mm=FRAME.inside_width_mm,
        height_mm=FRAME.inside_height_mm,
        settings=FilmSettings(dpi=DPI),
    )
    dots, bits = bits_of(field), rows_of(page)
    for one, item in zip(page.films, plan.placed, strict=True):
        x, y, w, h = one.x_px, one.y_px, one.film.width_px, one.film.height_px
        left, top = round(item.x_mm * 10), round(item.y_mm * 10)
        np.testing.assert_array_equal(bits[y : y + h, x : x + w], dots[top : top + h, left : left + w])


def test_the_pdf_is_true_to_size_and_has_a_page_for_each_tile(tmp_path: Path) -> None:
    import pikepdf

    a = image(100, 60)
    plan = screen_of(placed("a", 100, 100, 100, 60, 0))
    (film,) = write_screen_films(tmp_path / "own", [plan], {"a": a}, title="regatta")
    assert film.path.name == "screen-01-white-43-80.pdf"
    assert film.tiles == 1
    with pikepdf.open(film.path) as pdf:
        (page,) = pdf.pages
        images = [image for _, image in page.Resources.XObject.items()]
        assert (images[0].Width, images[0].Height) == (1000, 600)  # 254 dpi: 10 pixels a mm
        box = [float(v) for v in page.MediaBox]
    assert box[2] * 25.4 / 72 >= 100
    (tiled,) = write_screen_films(
        tmp_path / "tiled", [plan], {"a": a}, sheet=sheet_of(FilmPrinter(140, 150, margin_mm=6))
    )
    with pikepdf.open(tiled.path) as pdf:
        assert len(pdf.pages) == tiled.tiles
        for page in pdf.pages:
            assert [round(float(v) * 25.4 / 72) for v in page.MediaBox] == [0, 0, 140, 150]


@pytest.mark.parametrize("across", [True, False])
def test_a_seam_goes_through_the_lane_between_prints(across: bool) -> None:
    """The art has a gap of its own nearer to the middle of the film; the lane is better."""
    coverage = np.full((300, 450), 255, np.uint8)
    coverage[130:150], coverage[:, 300:330] = 0, 0
    wide = ScreenImage(coverage, None, None, 90, 60, FilmSettings(dpi=DPI))
    images = {"a": wide, "b": image(60, 60, seed=2)}
    if across:
        plan = screen_of(placed("a", 60, 100, 90, 60, 0), placed("b", 200, 100, 60, 60, 0))
        layout = ScreenLayout(plan, images, sheet=Sheet("roll", 190, None))
        (first, second), origin = layout.tiles, layout.origin_px[0]
        cut, low, high = first.x_px + first.seams_x_px[0], 150, 200
    else:
        plan = screen_of(placed("a", 100, 80, 90, 60, 0), placed("b", 120, 190, 60, 60, 0))
        layout = ScreenLayout(plan, images, sheet=Sheet("sheet", 210, 215))
        (first, second), origin = layout.tiles, layout.origin_px[1]
        cut, low, high = first.y_px + first.seams_y_px[0], 140, 190
    assert second.number == 2
    assert low + 6 <= (origin + cut) * 25.4 / DPI <= high - 6


def test_turned_plane_is_its_own_inverse_at_half_a_turn() -> None:
    plane = picture(40, 30, 3)
    np.testing.assert_array_equal(turned_plane(turned_plane(plane, 180), 180), plane)
    np.testing.assert_array_equal(turned_plane(turned_plane(plane, 90), 270), plane)
    assert turned_plane(plane, 90).shape == (40, 30)
    assert turned_plane(plane, 90)[0, -1] == plane[0, 0]  # clockwise: the top left goes to the top right
