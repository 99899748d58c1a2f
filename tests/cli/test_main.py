from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from sepkit import __version__
from sepkit.cli import main as entry
from sepkit.cli.main import COMMANDS, main
from sepkit.errors import ArtworkError

ALLOWED = {"click", "sepkit"}
HEAVY = {"numpy", "PIL", "scipy", "skimage", "colour", "tifffile", "pikepdf", "pypdfium2", "resvg_py", "imagecodecs"}


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "sepkit", *words], capture_output=True, text=True, check=False)


@pytest.mark.parametrize("words", ["--help", "separate --help", "check --help", "demo --help", "--version"])
def test_help_loads_nothing_heavy(words: str) -> None:
    code = (
        "import sys\nfrom sepkit.cli.main import main\n"
        f"try: main({words.split()!r})\nexcept SystemExit as e: assert e.code == 0, e.code\n"
        "tops = {m.split('.')[0] for m in sys.modules}\n"
        "third = {m for m in tops if m not in sys.stdlib_module_names and not m.startswith('_')}\n"
        "print('LOADED', ' '.join(sorted(third)))\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    loaded = set(out.split("LOADED", 1)[1].split())
    assert not loaded & HEAVY
    site = {"sitecustomize", "usercustomize", "google", "distutils-precedence", "mpl_toolkits"}
    assert loaded - site <= ALLOWED, loaded


@pytest.mark.parametrize("command", ["check", "separate"])
def test_a_logo_loads_no_scipy(tmp_path: Path, command: str) -> None:
    from PIL import Image, ImageDraw

    image = Image.new("RGBA", (1200, 1200))
    pen = ImageDraw.Draw(image)
    pen.ellipse((80, 80, 1120, 1120), fill=(240, 200, 60, 255))
    pen.rectangle((400, 700, 800, 900), fill=(40, 60, 120, 255))
    pen.line((160, 500, 1040, 700), fill=(0, 0, 0, 0), width=5)  # a gap too thin: a fault that is told at a place
    image.reduce(4).save(tmp_path / "art.png")
    words = [command, str(tmp_path / "art.png"), "--on", "black tee", "--width", "60mm", "--json"]
    words += ["-o", str(tmp_path / "out")] if command == "separate" else []
    code = (
        "import sys\nfrom sepkit.cli.main import main\n"
        f"try: main({words!r})\nexcept SystemExit: pass\n"
        "print('LOADED', sorted(HEAVY & set(sys.modules)))\n"
    ).replace("HEAVY", repr(HEAVY))
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path).stdout
    assert command == "separate" or '"thin-gaps"' in said
    assert said.split("LOADED", 1)[1].split() == ["['PIL',", "'numpy']"]


def test_help_lists_every_command_with_a_line() -> None:
    out = run("--help").stdout
    for name, (_, text) in COMMANDS.items():
        assert name in out
        assert text.split(".")[0][:40] in out


def test_version() -> None:
    assert __version__ in run("--version").stdout


def test_an_unknown_command_names_near_ones() -> None:
    done = run("seperate")
    assert done.returncode == 2
    assert "separate" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (ArtworkError("no art", where="a.png", hint="draw some"), 4),
        (KeyboardInterrupt(), 130),
        (MemoryError(), 70),
        (ValueError("boom"), 70),
    ],
)
def test_errors_become_one_line_and_a_code(
    error: BaseException, code: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(**_: object) -> None:
        raise error

    monkeypatch.setattr(entry.cli, "main", broken)
    with pytest.raises(SystemExit) as stop:
        main([])
    assert stop.value.code == code
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert said.startswith("sepkit: ")
    assert "Traceback" not in said
