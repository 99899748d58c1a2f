"""sepkit gang on a job file: its prints separated, placed on its screens, drawn and put on film."""

from __future__ import annotations

import json
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner
from PIL import Image, ImageDraw

from sepkit.cli.gang import gang
from sepkit.errors import SepkitError

JOB = """
schema = 1
title = "Lantern evening"

[press]
name = "two-head"

[film]
sheet_width_mm = 432
sheet_height_mm = 0
dpi = 150

[[screen]]
name = "middle"
inside_width_mm = 400
inside_height_mm = 500
mesh = "55-64"
count = 2

[[garment]]
name = "white tee"
sizes = { M = 6 }

[[print]]
name = "chest"
art = "lamp.png"
placement = "left chest"
width_mm = 80
one_ink = "black"

[[print]]
name = "nape"
art = "lamp.png"
placement = "nape"
width_mm = 50
one_ink = "black"
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    art = Image.new("RGBA", (240, 160), (0, 0, 0, 0))
    ImageDraw.Draw(art).polygon([(20, 140), (120, 20), (220, 140)], fill=(20, 20, 20, 255))
    art.save(tmp_path / "lamp.png", dpi=(150, 150))
    path = tmp_path / "evening.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def test_a_job_s_prints_share_a_screen_with_drawing_and_film(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "screens"
    result = CliRunner().invoke(gang, [str(job), "-o", str(out)])
    assert result.exit_code == 0, result.output
    record = json.loads((out / "gang.json").read_text("utf-8"))
    (screen,) = record["screens"]
    assert record["screens_one_each"] == 2
    assert sorted(round(p["width_mm"]) for p in screen["prints"]) == [50, 80]
    assert screen["mesh"] == "55-64"
    assert {path.name for path in out.iterdir()} == {"gang.json", screen["drawing"], screen["film"]["file"]}
    with pikepdf.open(out / screen["film"]["file"]) as pdf:
        (page,) = pdf.pages
        masks = sorted((m.Width, m.Height) for _, m in page.Resources.XObject.items())
    assert masks == [(295, 197), (472, 315)]  # 50 and 80 mm wide at 150 dpi
    assert not list(tmp_path.glob("*.part"))


def test_a_print_too_large_for_every_screen_of_the_job_is_told(job: Path, tmp_path: Path) -> None:
    job.write_text(JOB.replace('"left chest"\nwidth_mm = 80', '"full front"\nwidth_mm = 350'), encoding="utf-8")
    result = CliRunner().invoke(gang, [str(job), "-o", str(tmp_path / "screens")])
    assert isinstance(result.exception, SepkitError)
    assert result.exception.exit_code in (3, 8)
    assert "350" in str(result.exception)
    assert "chest" in str(result.exception)
    assert not (tmp_path / "screens").exists()
