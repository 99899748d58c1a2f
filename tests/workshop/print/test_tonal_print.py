"""Tonal art, from a picture to screens that were solved together."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.print.film_proof import _combinations, film_proof
from sepkit.workshop.print.options import PrintOptions, bench_of
from sepkit.workshop.print.plan import PlannedPrint, plan_print, planned_again
from tests.benchmarks._tones_art import portrait, sunset


def _plan(folder: Path, picture: np.ndarray, cloth: str, **asked: object) -> PlannedPrint:
    path = folder / "art.png"
    Image.fromarray(picture).save(path)
    options = PrintOptions(art=path, garment=cloth, width_mm=60.0, film_dpi=300.0, **asked)  # type: ignore[arg-type]
    return plan_print(options, bench_of(options, Shelf()))


@pytest.fixture(scope="module")
def dark(tmp_path_factory: pytest.TempPathFactory) -> PlannedPrint:
    return _plan(tmp_path_factory.mktemp("dark"), sunset(140), "black tee")


def test_a_sunset_on_black_is_believed(dark: PlannedPrint) -> None:
    plates = dark.separation.plates
    assert 3 <= len(plates) <= 5
    assert plates[0].is_base and plates[0].ink.name == "white"
    proof = film_proof(plates, dark.bench.garment, dark.separation.artwork, making=dark.making, register_error_mm=0.3)
    assert proof.mean_de00 < 4
    assert proof.plan_de00 < 1.5
    assert proof.off_mean_de00 > proof.mean_de00
    assert plates[0].printed[-6:, 40:80].mean() < 8, "near hills are dark by the cloth: no base lies there"


def test_bare_cloth_beside_a_print_is_no_merit_of_it(dark: PlannedPrint) -> None:
    art, plates = dark.separation.artwork, dark.separation.plates
    half = art.alpha.shape[1] // 2

    def bared(plane: np.ndarray | None) -> np.ndarray | None:
        return None if plane is None else np.where(np.arange(plane.shape[1]) < half, 0, plane).astype(plane.dtype)

    names = ("coverage", "printed", "tone")
    fewer = [replace(one, **{name: bared(getattr(one, name)) for name in names}) for one in plates]
    whole, right = (
        film_proof(some, dark.bench.garment, picture, making=dark.making, register_error_mm=0.3)
        for some, picture in ((plates, art), (fewer, replace(art, alpha=bared(art.alpha))))
    )
    assert right.mean_de00 > 0.75 * whole.mean_de00
    assert right.plan_de00 > 0.75 * whole.plan_de00


def test_its_findings_name_the_inks(dark: PlannedPrint) -> None:
    told = next(f.text for f in dark.separation.findings if f.code == "kind-of-art")
    assert all(plate.ink.name in told for plate in dark.separation.plates)


def test_a_changed_ruling_keeps_the_screens(dark: PlannedPrint) -> None:
    again = planned_again(dark, replace(dark.bench.wishes, lpi=35.0))
    before, after = dark.separation.plates, again.separation.plates
    assert [plate.name for plate in before] == [plate.name for plate in after]
    assert all(np.array_equal(a.printed, b.printed) for a, b in zip(before, after, strict=True))
    assert {plate.halftone.lpi for plate in after if plate.halftone} == {35.0}


def test_black_and_white_takes_one_screen(tmp_path: Path) -> None:
    assert [p.ink.name for p in _plan(tmp_path, portrait(160), "white tee", kind="tonal").separation.plates] == [
        "black"
    ]


def test_named_inks_are_all_that_prints(tmp_path: Path) -> None:
    planned = _plan(tmp_path, portrait(160), "white tee", inks="violet,orange", kind="tonal")
    plates = planned.separation.plates
    assert {plate.ink.name for plate in plates} == {"violet", "orange"}
    # The dark ink carries the darks.
    light = planned.separation.artwork.rgb[..., 1].ravel().astype(float)
    violet = next(plate for plate in plates if plate.ink.name == "violet").printed.ravel()
    assert np.corrcoef(light, violet)[0, 1] < -0.7


@pytest.mark.parametrize("most", [2, 3])
def test_screens_are_bounded_by_the_wish(tmp_path: Path, most: int) -> None:
    assert len(_plan(tmp_path, sunset(100), "black tee", screens=most).separation.plates) <= most


@pytest.mark.parametrize("plates", [1, 7, 8, 12])
def test_combinations_of_coverages_are_exact_for_any_number_of_screens(plates: int) -> None:
    rng = np.random.default_rng(plates)
    planes = [rng.choice(np.array([0, 37, 128, 255], np.uint8), (9, 11)) for _ in range(plates)]
    levels, back = _combinations(planes)
    assert np.array_equal(np.rint(255 * levels[back]).T.reshape(plates, 9, 11), planes)


def test_the_proof_of_tones_keeps_the_art_s_colours(dark: PlannedPrint) -> None:
    assert dark.for_its_proof() is dark
