from __future__ import annotations

import pytest

from sepkit.errors import NotFoundError, UsageError
from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.inks.correct import Pot, RepairRequest, repair_batch
from sepkit.workshop.inks.tint import TintOutputs, TintRequest, predict_tint

pytestmark = pytest.mark.usefixtures("own_folder")

POT = Pot(parts=(("white", 380.0), ("yellow", 90.0), ("red", 30.0), ("black", 0.0)))
MEASURED, TARGET = "lab(72 22 48)", "#e0a060"


def test_additions_grow_and_near_the_target_and_the_first_good_one_is_advised(shelf: Shelf) -> None:
    found = repair_batch(RepairRequest(POT, MEASURED, TARGET), shelf)
    assert found.batch_g == 500 and found.reached
    off = [one.de00 for one in found.additions]
    assert found.additions[0].parts == ()
    assert found.advised_de00 == off[found.advised] <= 1.0 < min(off[: found.advised])
    assert "add-in-steps" in {finding.code for finding in found.findings}


def test_a_batch_that_is_right_needs_nothing(shelf: Shelf) -> None:
    found = repair_batch(RepairRequest(POT, TARGET, TARGET, tolerance_de00=1.0), shelf)
    assert found.advised == 0 and found.reached
    assert found.findings == ()


def test_a_fine_dose_is_told(shelf: Shelf) -> None:
    found = repair_batch(RepairRequest(POT, MEASURED, TARGET, step_g=1.0), shelf)
    assert "dose-coarse" in {finding.code for finding in found.findings}
    assert all(mass_g % 1 == 0 for one in found.additions for _, mass_g in one.parts)


def test_what_may_be_added_bounds_what_is_reached(shelf: Shelf) -> None:
    found = repair_batch(RepairRequest(POT, "#5a5a5c", "#c02030", may_add=("white",)), shelf)
    assert not found.reached and found.advised_de00 > 1
    assert {ink.name for one in found.additions for ink, _ in one.parts} <= {"white"}
    with pytest.raises(UsageError, match="names no ink"):
        repair_batch(RepairRequest(POT, MEASURED, TARGET, may_add=()), shelf)


def test_a_kept_recipe_brings_its_parts_and_its_target(shelf: Shelf) -> None:
    recipe = TintRequest((("white", 380.0), ("yellow", 90.0), ("red", 30.0)), against=(TARGET,))
    predict_tint(recipe, shelf, TintOutputs(save_as="lantern"))
    predict_tint(TintRequest((("white", 90.0), ("red", 10.0))), shelf, TintOutputs(save_as="stall pink"))
    shelf = Shelf()  # as the next command finds it
    half = repair_batch(RepairRequest(Pot(recipe="lantern", batch_g=250), MEASURED), shelf)
    assert half.batch_g == 250 and half.target.name == TARGET
    assert repair_batch(RepairRequest(Pot(recipe="lantern"), MEASURED), shelf).batch_g == 500
    predicted = repair_batch(RepairRequest(Pot(recipe="stall pink"), "#f0a0a0"), shelf)
    assert predicted.target.name == "stall pink"
    with pytest.raises(NotFoundError, match='did you mean "lantern"'):
        repair_batch(RepairRequest(Pot(recipe="lantrn"), MEASURED), shelf)


@pytest.mark.parametrize(
    ("request_", "error", "said"),
    [
        (RepairRequest(POT, MEASURED), UsageError, "what should it look like"),
        (RepairRequest(POT, MEASURED, "nosuch"), UsageError, "--target"),
        (RepairRequest(POT, "nosuch", TARGET), UsageError, "--measured"),
        (RepairRequest(Pot(recipe="white"), MEASURED), NotFoundError, "no kept recipe"),
        (RepairRequest(Pot(parts=(("white", 1.0),)), MEASURED, TARGET), UsageError, "batch"),
    ],
)
def test_what_cannot_be_repaired(shelf: Shelf, request_: RepairRequest, error: type[Exception], said: str) -> None:
    with pytest.raises(error, match=said):
        repair_batch(request_, shelf)
