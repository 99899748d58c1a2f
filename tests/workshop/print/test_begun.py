"""Files that are begun when plates are decided: gone with the folder where planning fails after all."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import ArtworkError
from sepkit.workshop.print import begun, plan
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.write import make_prints


def test_nothing_is_left_of_a_print_that_fails_once_its_files_are_begun(tmp_path, monkeypatch):
    art = np.zeros((60, 60, 4), np.uint8)
    art[10:50, 10:50] = (200, 40, 40, 255)
    path, target = tmp_path / "box.png", tmp_path / "made" / "box"
    Image.fromarray(art).save(path)
    written = []

    def seen_written(folder, *given, **named):
        films(folder, *given, **named)
        written.extend(sorted(one.name for one in folder.iterdir()))

    def fails(*_given):
        raise ArtworkError("no", where="box.png", hint="none")

    films = begun.write_films
    monkeypatch.setattr(begun, "write_films", seen_written)
    monkeypatch.setattr(plan, "plan_findings", fails)
    with pytest.raises(ArtworkError):
        make_prints([PrintOptions(path, "#f4f4f2", width_mm=60)], target, force=False)
    assert {"films", "films.pdf", "plates"} <= set(written)
    assert [one.name for one in tmp_path.iterdir()] == ["box.png"]
