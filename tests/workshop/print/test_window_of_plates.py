"""A window of the plates with a halo: every pixel as in the whole print decided again."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import UsageError
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.session import Session
from sepkit.workshop.print.window import Window, planes_in


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """Discs of three inks that touch, thin lines and worn dots, on a base on black cloth."""
    rng = np.random.default_rng(5)
    y, x = np.mgrid[:420, :500].astype(float)
    rgb = np.zeros((420, 500, 3))
    alpha = np.zeros((420, 500))
    for cx, cy, r, colour in (
        (150, 200, 120, (240, 200, 60)),
        (280, 200, 100, (220, 60, 40)),
        (380, 280, 90, (60, 160, 90)),
    ):
        share = np.clip(r - np.hypot(x - cx, y - cy) + 0.5, 0, 1)
        rgb = rgb * (1 - share[..., None]) + np.array(colour, float) * share[..., None]
        alpha = np.maximum(alpha, share)
    for k in range(6):
        line = np.clip(1.2 - abs(y - 20 - 8 * k - 6 * np.sin(x / 30)) + 0.5, 0, 1)
        rgb = np.where(line[..., None] > 0, np.array([240.0, 200, 60]), rgb)
        alpha = np.maximum(alpha, line)
    alpha[(rng.random((420, 500)) < 0.04) & (x < 200)] = 0
    path = tmp_path_factory.mktemp("window") / "discs.png"
    Image.fromarray(np.rint(np.dstack([rgb, 255 * alpha])).astype(np.uint8)).save(path)
    return Session(PrintOptions(path, "black tee", width_mm=90, inks="all", base=("always",)))


@pytest.mark.parametrize(("trap_mm", "choke_mm"), [(0.3, 0.6), (0.8, 0.25), (0.5, 0.45)])
def test_a_window_is_the_whole_print_s(session, trap_mm, choke_mm):
    session.edit({"trap_mm": 0.2, "choke_mm": 0.3})
    before = session.planned
    assert any(plate.is_base for plate in before.separation.plates)
    session.edit({"trap_mm": trap_mm, "choke_mm": choke_mm})
    whole = [plate.printed for plate in session.planned.separation.plates]
    assert [plate.name for plate in before.separation.plates] == [p.name for p in session.planned.separation.plates]
    rng = np.random.default_rng(11)
    for _ in range(12):
        w, h = (int(v) for v in rng.integers(20, 160, 2))
        x, y = int(rng.integers(0, 500 - w)), int(rng.integers(0, 420 - h))
        found = planes_in(before, Window(x, y, w, h), trap_mm=trap_mm, choke_mm=choke_mm)
        for plane, wanted in zip(found, whole, strict=True):
            assert np.array_equal(plane, wanted[y : y + h, x : x + w]), (x, y, w, h)


def test_a_window_beside_the_art_is_told(session):
    with pytest.raises(UsageError, match="beside the art"):
        planes_in(session.planned, Window(9000, 0, 10, 10))
