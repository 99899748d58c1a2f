"""A print folder alone draws its print, decides it again and makes its films again, on any shelf."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sepkit.cli.main import main
from sepkit.decisions import AreaWish, BaseRules
from sepkit.errors import WriteError
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import Mesh
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.plan import planned_again
from sepkit.workshop.print.reopen import reopened
from sepkit.workshop.print.write import make_prints
from tests.helpers.print_plans import BLUE, RED, WHITE, YELLOW, plan, save

FOUR = [((5, 5, 20, 35), YELLOW), ((20, 5, 35, 35), RED), ((35, 5, 55, 20), BLUE), ((35, 20, 55, 35), WHITE)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("reopen")
    options = PrintOptions(
        art=save(where, FOUR), garment="black tee", width_mm=60.0, inks="yellow,red,#1e3c96,white", film_dpi=180.0
    )
    make_prints([options], where / "made", force=False)
    return where / "made"


def test_the_plan_is_decided_again_from_the_folder_alone(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_shelf(*_: object) -> None:
        raise AssertionError("the shelf was asked")

    for name in ("ink", "garment", "press", "mesh", "measured"):
        monkeypatch.setattr(Shelf, name, no_shelf)
    again = reopened(folder)
    plan_now = again.decided()
    assert len(plan_now.plates) == len(again.kept.plates) >= 4
    for was, now in zip(again.kept.plates, plan_now.plates, strict=True):
        for key in ("name", "role", "coats", "mesh", "trap_mm", "choke_mm", "why", "round", "flash_why", "print_srgb"):
            assert getattr(was, key) == getattr(now, key), key
        np.testing.assert_array_equal(was.printed, now.printed)
        np.testing.assert_array_equal(was.coverage, now.coverage)
    assert [p.round for p in plan_now.plates] == [p.round for p in again.kept.plates]
    assert max(p.round for p in again.kept.plates) > 1, "a plate read back is in its own round"


def test_a_changed_shelf_changes_no_old_print(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = reopened(folder).picture()
    inks = tmp_path / "recipes" / "inks"
    inks.mkdir(parents=True)
    from sepkit.files.shelf.folders import recipes_folder

    red = (recipes_folder() / "inks" / "blue.toml").read_text("utf-8").replace('"blue"', '"red"')
    (inks / "red.toml").write_text(red, "utf-8")
    monkeypatch.chdir(tmp_path)
    assert Shelf().ink("red").srgb == Shelf().ink("blue").srgb, "the shelf is another one now"
    np.testing.assert_array_equal(reopened(folder).picture(), before)


def test_a_changed_wish_needs_no_separation(tmp_path: Path) -> None:
    """From the same areas: another ink, base rule, coats, choke, trap, order and mesh, each does what it says."""
    planned, printed = plan(save(tmp_path, FOUR[:3]), "black tee")
    wishes = planned.bench.wishes
    by_srgb = {plate.art_srgb: plate for plate in planned.separation.plates if plate.art_srgb}
    green = Shelf().ink("green")

    def again(**changed: object) -> dict[object, object]:
        new = planned_again(planned, replace(wishes, **changed))
        assert new.areas is planned.areas
        return {plate.art_srgb: plate for plate in new.separation.plates} | {"picture": new.seen.printed, "print": new}

    swapped = again(areas={RED: AreaWish(ink=green)})
    assert swapped[RED].ink.name == "green"
    assert (swapped["picture"] != printed).any()
    assert (again(areas={RED: AreaWish(base="never")})[RED].why).startswith("as asked (never)")
    assert again(areas={YELLOW: AreaWish(coats=3)})[YELLOW].coats == 3
    assert again(areas={BLUE: AreaWish(mesh=Mesh(90, 40))})[BLUE].mesh == Mesh(90, 40) != by_srgb[BLUE].mesh
    bare = again(base=BaseRules("never"), trap_mm=0.0)
    assert None not in bare
    assert all(bare[rgb].trap_mm == 0 for rgb in (RED, BLUE, YELLOW))
    wide = again(choke_mm=1.5)
    base = next(p for p in planned.separation.plates if p.is_base)
    assert wide[base.art_srgb].printed.sum() < base.printed.sum()
    turned = again(order=(BLUE, RED, YELLOW))
    orders = [turned[rgb].order for rgb in (BLUE, RED, YELLOW)]
    assert orders == sorted(orders) != [by_srgb[rgb].order for rgb in (BLUE, RED, YELLOW)]


def test_a_folder_without_the_bench_says_so_in_one_line(folder: Path, tmp_path: Path) -> None:
    """The record of an earlier sepkit: it is read, drawn and filmed, and cannot be decided again."""
    import shutil

    old = tmp_path / "old"
    shutil.copytree(folder, old)
    record = json.loads((old / "separation.json").read_text("utf-8"))
    for key in ("inks", "areas", "wishes", "press", "base_ink", "white_cloth", "frames", "may_turn", "measured"):
        del record[key]
    record["garment"] = {key: record["garment"][key] for key in ("name", "srgb", "lab", "shape", "weight_g_m2")}
    for plate in record["plates"]:
        for key in ("ink_place", "base", "flash_why", "round", "also_base"):
            del plate[key]
    (old / "separation.json").write_text(json.dumps(record), "utf-8")
    with pytest.raises(WriteError, match="does not say how it was decided"):
        reopened(old)
    with pytest.raises(SystemExit) as stop:
        main(["films", str(old), "--dpi", "200", "--quiet"])
    assert stop.value.code == 0
