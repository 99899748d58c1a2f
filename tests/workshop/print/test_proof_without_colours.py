"""A proof of flat art asks nothing of the art's colours; one that does keeps them."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.workshop.print.proof import proofed
from tests.helpers.print_plans import BLUE, RED, WHITE, YELLOW, plan, save

BOXES = [((5, 5, 40, 35), RED), ((15, 10, 30, 25), BLUE), ((42, 5, 56, 20), YELLOW), ((42, 22, 56, 36), WHITE)]


@pytest.fixture
def art(tmp_path):
    return save(tmp_path, BOXES)


def test_a_proof_is_the_same_without_them(art):
    planned, _ = plan(art)
    lean = planned.for_its_proof()
    kept = lean.separation.artwork
    assert kept.rgb.strides == (0, 0, 1), "in no memory"
    assert not kept.rgb.any() and kept.dpi == planned.separation.artwork.dpi
    (told, proof), (lean_told, lean_proof) = proofed(planned), proofed(lean)
    assert proof.pictures.keys() == lean_proof.pictures.keys()
    assert all(np.array_equal(proof.pictures[name], lean_proof.pictures[name]) for name in proof.pictures)
    assert proof.record == lean_proof.record
    assert told.separation.findings == lean_told.separation.findings


def test_what_explains_the_art_keeps_them(art):
    planned, _ = plan(art, explain=True)
    assert planned.for_its_proof() is planned
