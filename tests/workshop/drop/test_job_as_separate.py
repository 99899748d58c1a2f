"""A print of a job is decided and told as `sepkit separate` decides and tells it: one way of a print."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from tests.helpers.print_plans import BLUE, RED, YELLOW, save
from tests.helpers.runner import run

JOB = """schema = 1
title = "Lantern walk"

[press]
name = "two-head"
heads = {heads}

[film]
dpi = {dpi}

[[screen]]
name = "large"
inside_width_mm = 533
inside_height_mm = 737
mesh = "{mesh}"
count = 9

[[blade]]
width_mm = 200

[[garment]]
name = "{garment}"
sizes = {{ M = 4 }}

[[print]]
name = "chest"
art = "art.png"
placement = "left chest"
width_mm = 60
"""


def record_of_job(folder: Path, *, heads: int, mesh: str, dpi: int = 180, garment: str = "black tee") -> dict[str, Any]:
    (folder / "drop.toml").write_text(JOB.format(heads=heads, mesh=mesh, dpi=dpi, garment=garment), "utf-8")
    assert run("job", folder / "drop.toml", "-o", folder / "drop", "--anyway", "--quiet") == 0
    (found,) = (folder / "drop").rglob("separation.json")
    return dict(json.loads(found.read_text("utf-8")))


def test_the_heads_of_a_job_reach_its_prints(tmp_path: Path) -> None:
    """Four screens on six heads are one round, without the flashes that changes between rounds ask for."""
    save(tmp_path, [((5, 5, 20, 35), YELLOW), ((20, 5, 35, 35), RED), ((35, 5, 55, 35), BLUE)])
    record = record_of_job(tmp_path, heads=6, mesh="43-80")
    plates = record["plates"]
    assert record["press"]["heads"] == 6
    assert len(plates) > 2
    assert {plate["round"] for plate in plates} == {1} == {one["round"] for one in record["rounds"]}
    assert not any("round ends" in plate["flash_why"] for plate in plates)
    assert not any(finding["code"] == "more-screens-than-heads" for finding in record["findings"])


def fade(folder: Path) -> Path:
    shade = np.linspace(0, 255, 240, dtype=np.uint8)[None, :].repeat(160, axis=0)
    rgba = np.dstack([np.full_like(shade, 200), np.full_like(shade, 40), np.full_like(shade, 40), shade])
    Image.fromarray(rgba).save(folder / "art.png")
    return folder / "art.png"


def test_a_job_tells_of_dots_and_meshes_what_separate_tells(tmp_path: Path) -> None:
    """On an open mesh, a fade's dots are coarse for the threads, and at 180 dpi they have few tints."""
    art = fade(tmp_path)
    told_by_job = record_of_job(tmp_path, heads=2, mesh="43-80", garment="white tee")
    assert (
        run(
            "separate",
            art,
            "--on",
            "white tee",
            "--width",
            "60mm",
            "--mesh",
            "43-80",
            "--film-dpi",
            180,
            "-o",
            tmp_path / "alone",
            "--quiet",
        )
        == 0
    )
    alone = json.loads((tmp_path / "alone" / "separation.json").read_text("utf-8"))
    about_films = {"few-grey-levels", "coarse-mesh", "narrow-tones", "moire"}

    def told(record: dict[str, Any]) -> set[tuple[str, str]]:
        return {(one["code"], one["text"]) for one in record["findings"] if one["code"] in about_films}

    assert {code for code, _ in told(alone)} >= {"few-grey-levels"}
    assert {code for code, _ in told(told_by_job)} == {code for code, _ in told(alone)}
    assert [plate["mesh"] for plate in told_by_job["plates"]] == [plate["mesh"] for plate in alone["plates"]]
