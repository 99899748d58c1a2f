"""On a terminal a long command tells what it is at from early on and clears the line; elsewhere it is silent."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
LINE = "import sys; from sepkit.cli.main import main; main(sys.argv[1:])"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    image = Image.new("RGBA", (80, 60), (0, 0, 0, 0))
    image.paste((200, 40, 40, 255), (10, 10, 70, 50))
    image.save(tmp_path / "art.png")
    return tmp_path


def on_terminal(folder: Path, *words: str) -> list[str]:
    """Return what stood on the one moving line of a terminal that a command has for stderr."""
    import pty

    ours, theirs = pty.openpty()
    run = subprocess.Popen(
        [sys.executable, "-c", LINE, *words],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=theirs,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    os.close(theirs)
    told = b""
    while True:
        try:
            piece = os.read(ours, 4096)
        except OSError:  # so Linux tells that the other side has closed
            break
        if not piece:
            break
        told += piece
    os.close(ours)
    assert run.wait() == 0, told.decode()
    return [text.strip() for text in told.decode().split("\r") if text.strip()]


def test_what_moves_on_a_terminal(folder: Path) -> None:
    if sys.platform == "win32":
        return  # no pty there
    words = ["separate", "art.png", "--on", "white tee", "--width", "20mm", "--no-ladder", "-o", "out"]
    told = on_terminal(folder, *words)
    assert told[0] == "reading the art"
    assert {"separating", "choosing inks, deciding base, coats and order", "plates", "films"} <= set(told)
    assert told.index("separating") < told.index("plates")
    assert on_terminal(folder, "films", "out")[0] == "films"
    assert on_terminal(folder, *words, "--force", "--quiet") == []
