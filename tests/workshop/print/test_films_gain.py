"""A press's measured edge growth, from its file into films and the predicted print."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.cli.main import main
from sepkit.film.making import FilmMaking
from sepkit.film.tone import DotGain, film_tint, printed_tint, tint_limits
from sepkit.model import Halftone, Mesh, Plate
from sepkit.press.filming import tone_curve
from sepkit.press.mesh import tone_limits
from tests.helpers.print_folders import grey_ink

PRESS = """[[press]]
name = "measured"
heads = 2
platens = 2
platen_width_mm = 380
platen_height_mm = 480
register_error_mm = 0.3
edge_growth_um = 45
"""


def a_plate(halftone: Halftone | None) -> Plate:
    plane = np.full((4, 4), 128, np.uint8)
    red, rgb = grey_ink("red"), (200, 30, 30)
    return Plate(1, "red", "colour", red, None, rgb, plane, plane, plane > 0, 1, False, halftone, Mesh(77, 55))


def test_without_a_growth_tints_print_as_asked() -> None:
    assert tone_curve(FilmMaking(720.0)) is None


@pytest.mark.parametrize("shape", ["ellipse", "round", "line"])
def test_the_curve_is_the_films_own_run_forward(shape: str) -> None:
    """Between the limits films make up for the growth; below them fewer dots do, and stripes stay the smallest."""
    dots = Halftone(40.0, 22.5, shape)  # type: ignore[arg-type]
    gain = DotGain(edge_um=45)
    curve = tone_curve(FilmMaking(720.0, gain))
    assert curve is not None
    asked = np.linspace(0, 1, 101)
    printed = curve(a_plate(dots), asked)
    limits = tone_limits(Mesh(77, 55), small="fewer")
    least, most = tint_limits(limits, dots)
    film = film_tint(asked, gain, dots, limits=limits)
    held = (film > least) & (film < most)
    assert held.sum() > 20
    assert printed[held] == pytest.approx(asked[held], abs=0.01)
    small = (film >= least / 2) & (film < least) & (asked > 0)
    assert small.any()
    smallest = float(printed_tint(np.array(least), gain, dots))
    if shape == "line":
        assert printed[small] == pytest.approx(smallest, abs=1e-6)
    else:
        assert printed[small] == pytest.approx(film[small] / least * smallest, abs=1e-6)
        assert printed[small] == pytest.approx(asked[small], abs=1e-6)
    raising = tone_curve(FilmMaking(720.0, gain, small="raise"))
    assert raising is not None
    film = film_tint(asked, gain, dots)
    raised = (film >= least / 2) & (film < least) & (asked > 0)
    assert raised.any()
    assert raising(a_plate(dots), asked)[raised] == pytest.approx(smallest, abs=1e-6)
    assert (printed[0], printed[-1]) == (0, 1)
    assert curve(a_plate(None), asked) is asked


def test_separate_makes_films_and_picture_for_the_measured_press(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    art = np.zeros((160, 160, 4), np.uint8)
    art[..., :3] = (200, 40, 40)
    art[..., 3] = np.clip((70 - np.hypot(*(np.mgrid[:160, :160] - 80))) * 4, 0, 255).astype(np.uint8)
    Image.fromarray(art).save(tmp_path / "glow.png")
    own = tmp_path / "own"
    own.mkdir()
    (own / "presses.toml").write_text(PRESS)
    monkeypatch.setenv("SEPKIT_RECIPES", str(own))
    ink, seen = {}, {}
    for press in ("measured", "two-head"):
        folder = tmp_path / press
        with pytest.raises(SystemExit) as stop:
            main(
                [
                    "separate",
                    str(tmp_path / "glow.png"),
                    "--on",
                    "#f4f4f2",
                    "--width",
                    "120mm",
                    "--film-dpi",
                    "300",
                    "--inks",
                    "#c82828",
                    "--press",
                    press,
                    "-o",
                    str(folder),
                    "--quiet",
                ]
            )
        assert not stop.value.code
        record = json.loads((folder / "separation.json").read_text("utf-8"))
        assert record["film"].get("dot_gain") == ({"edge_um": 45, "points": []} if press == "measured" else None)
        assert any(plate["halftone"] for plate in record["plates"])
        ink[press] = sum(path.stat().st_size for path in (folder / "films").iterdir())
        seen[press] = np.array(Image.open(folder / "compare.png").convert("RGB"), int)
    assert ink["measured"] != ink["two-head"]
    assert np.abs(seen["measured"] - seen["two-head"]).max() <= 2, (
        "the films make up for the growth, in small tints too"
    )
