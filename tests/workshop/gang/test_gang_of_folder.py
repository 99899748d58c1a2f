"""Screens of a print folder are made with that folder's own film settings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pikepdf
import pytest

from sepkit.cli.main import main
from tests.helpers.print_folders import make_folder


def gang(folder: Path, out: Path) -> Path:
    with pytest.raises(SystemExit) as stop:
        main(
            [
                "gang",
                "--screen",
                "300x300mm:77-55",
                "--print",
                f"glow={folder}",
                "--film-dpi",
                "200",
                "-o",
                str(out),
                "--edge",
                "10mm",
                "--ends",
                "10mm",
                "--quiet",
            ]
        )
    assert stop.value.code == 0
    (film,) = out.glob("*.pdf")
    return film


def test_the_growth_that_a_folder_was_made_for_reaches_its_screens(tmp_path: Path) -> None:
    """Lightened for 60 µm of growth, the same tones have less ink on the screen's film."""
    plain = make_folder(tmp_path / "plain", plates=1, film_dpi=200.0)
    grown = make_folder(tmp_path / "grown", plates=1, film_dpi=200.0)
    with pytest.raises(SystemExit):
        main(["films", str(grown), "--edge-growth", "60um", "--quiet"])
    without, lightened = (ink_of(gang(folder, tmp_path / f"{folder.name}-out")) for folder in (plain, grown))
    assert 0 < lightened < 0.97 * without


def ink_of(film: Path) -> float:
    """Return the share of black on a film, as an outside reader draws its masks."""
    with pikepdf.open(film) as pdf:
        images = [one for one in pdf.objects if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image"]
        masks = [np.frombuffer(image.read_bytes(), np.uint8) for image in images]
        inverted = [image.get("/Decode", pikepdf.Array([0, 1]))[0] == 1 for image in images]
    dots = max(zip(masks, inverted, strict=True), key=lambda found: found[0].size)
    share = float(np.unpackbits(dots[0]).mean())
    return share if dots[1] else 1 - share
