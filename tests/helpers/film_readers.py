"""Outside readers of films: programs, not part of this project, that say what a file holds.

A reader that is missing fails the test where CI=true, and elsewhere is reported loudly on stderr: the test then has
checked nothing.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

PACKAGES = {
    "pdftoppm": "poppler-utils",
    "pdfinfo": "poppler-utils",
    "pdfimages": "poppler-utils",
    "gs": "ghostscript",
    "qpdf": "qpdf",
    "tiffinfo": "libtiff-tools",
}


def present(program: str) -> bool:
    """Whether ``program`` can be run; see above for when it cannot."""
    if shutil.which(program):
        return True
    text = f"{program} is missing: films were NOT read by an outside program (install {PACKAGES[program]})"
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(text)
    sys.__stderr__.write(f"\n*** {text} ***\n")
    return False


def run(*command: object, cwd: Path | None = None) -> str:
    """Run a program and return what it says; fail when it fails."""
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True, cwd=cwd, check=False)
    assert done.returncode == 0, done.stderr or done.stdout
    return done.stdout


def poppler_bits(pdf: Path, dpi: float, page: int = 1) -> np.ndarray:
    """Page as (h, w) bool, True = ink, by poppler at device resolution."""
    stem = pdf.with_name(f"{pdf.stem}-poppler-{page}")
    run("pdftoppm", "-r", f"{dpi:g}", "-mono", "-f", page, "-l", page, "-singlefile", pdf, stem)
    return ink_of(stem.with_suffix(".pbm"))


def ghostscript_bits(pdf: Path, dpi: float, page: int = 1) -> np.ndarray:
    """Page as (h, w) bool, True = ink, by Ghostscript at device resolution."""
    out = pdf.with_name(f"{pdf.stem}-gs-{page}.pbm")
    run(
        "gs",
        "-q",
        "-dNOPAUSE",
        "-dBATCH",
        "-dSAFER",
        "-sDEVICE=pbmraw",
        f"-r{dpi:g}",
        f"-dFirstPage={page}",
        f"-dLastPage={page}",
        f"-sOutputFile={out}",
        pdf,
    )
    return ink_of(out)


def ink_of(path: Path) -> np.ndarray:
    """A 1-bit picture as (h, w) bool, True where it is black."""
    with Image.open(path) as image:
        assert image.mode == "1"
        return ~np.array(image, bool)
