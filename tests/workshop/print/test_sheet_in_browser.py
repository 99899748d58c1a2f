"""The job sheet in headless Chromium: it draws, and prints on A4. Without Chromium nothing is checked, loudly."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.sheets.job_sheet import Lines, Picture, Pictures, Section, Table, job_sheet

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)


def chromium(tmp_path: Path, *flags: str) -> None:
    quiet = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking")
    command = [
        str(CHROMIUM),
        *quiet,
        f"--user-data-dir={tmp_path / 'profile'}",
        *flags,
        f"file://{tmp_path}/sheet.html",
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr


def sheet(tmp_path: Path) -> None:
    Image.new("RGB", (60, 40), (200, 30, 30)).save(tmp_path / "a.png")
    picture = Picture((tmp_path / "a.png").read_bytes(), "red")
    rows = tuple((f"row {n}", "x" * 60) for n in range(60))
    sections = [
        Section("Pictures", (Pictures((picture,) * 3),)),
        Section("Table", (Table(("a", "b"), rows), Lines(("tick me",) * 30, ticks=True))),
    ]
    (tmp_path / "sheet.html").write_text(job_sheet("Kites", "sub", sections), encoding="utf-8")


def test_screen_and_paper(tmp_path: Path) -> None:
    if CHROMIUM is None:
        sys.__stderr__.write("\n*** chromium is missing: the sheet was NOT seen in a browser ***\n")  # type: ignore[union-attr]
        return
    sheet(tmp_path)
    chromium(tmp_path, "--window-size=1000,900", f"--screenshot={tmp_path / 'shot.png'}")
    shot = np.asarray(Image.open(tmp_path / "shot.png").convert("RGB")).astype(int)
    red = (abs(shot - (200, 30, 30)).sum(axis=2) < 30).sum()
    assert red == pytest.approx(3 * 60 * 40, rel=0.1)
    chromium(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'sheet.pdf'}")
    import pikepdf

    with pikepdf.open(tmp_path / "sheet.pdf") as pdf:
        sizes = {tuple(round(float(v) * 25.4 / 72) for v in list(page.mediabox)[2:]) for page in pdf.pages}
        assert sizes == {(210, 297)}
        assert 2 <= len(pdf.pages) <= 5
