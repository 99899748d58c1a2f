"""Every example in every command's --help runs, in a working folder that holds the files it names."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import click
import pytest
from PIL import Image, ImageDraw

from sepkit.cli.main import LazyGroup, cli, main
from sepkit.files.shelf.folders import sample_art_folder

SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" viewBox="0 0 90 60">
<rect x="5" y="5" width="80" height="50" fill="#203060"/><circle cx="45" cy="30" r="15" fill="#e8b23a"/></svg>"""
ELSEWHERE = ("sepkit demo", "sepkit page", "sepkit inspect", "sepkit shop --ask")
"""Run elsewhere: the demo test runs a smaller piece, the benchmark all of them; a page is served until it is ended, a
photograph takes its time to draw, and questions need a terminal."""


def is_elsewhere(line: str) -> bool:
    """Tell whether an example has a test of its own."""
    return line.startswith(ELSEWHERE) or "--photo" in line


def commands(group: click.Group, words: tuple[str, ...] = ("sepkit",)) -> list[tuple[tuple[str, ...], click.Command]]:
    found = []
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        if isinstance(command, LazyGroup):
            found += commands(command, (*words, name))
        else:
            found.append(((*words, name), command))
    return found


def examples(command: click.Command) -> list[str]:
    text = command.help or ""
    _, _, after = text.partition("Examples:")
    return [line.strip() for line in after.splitlines() if line.strip().startswith("sepkit ")]


ALL = [pytest.param(line, id=line) for words, command in commands(cli) for line in examples(command)]


def test_every_command_has_examples() -> None:
    for words, command in commands(cli):
        assert examples(command), words
        assert all(line.startswith(" ".join(words)) for line in examples(command)), words


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A working folder as the examples suppose it."""
    place = tmp_path_factory.mktemp("work")
    picture = Image.new("RGB", (240, 180), (255, 255, 255))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((30, 30, 200, 150), fill=(190, 40, 50))
    draw.ellipse((80, 60, 150, 120), fill=(32, 48, 96))
    picture.save(place / "badge.png")
    picture.save(place / "poster.jpg", quality=92)
    (place / "badge.svg").write_text(SVG)
    bands = [400 + 10 * k for k in range(31)]
    rows = {
        "over black": [0.05] * 18 + [0.35] * 13,
        "over white": [0.07] * 18 + [0.55] * 13,
        "tint 10": [0.45] * 18 + [0.80] * 13,
    }
    lines = ["name," + ",".join(map(str, bands)), *(f"{n}," + ",".join(map(str, v)) for n, v in rows.items())]
    (place / "red.csv").write_text("\n".join(lines) + "\n")
    return place


def run(line: str) -> int:
    with pytest.raises(SystemExit) as stop:
        main(shlex.split(line)[1:])
    return int(stop.value.code or 0)


@pytest.mark.parametrize("line", ALL)
def test_example(line: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    if is_elsewhere(line):
        return
    monkeypatch.chdir(folder)
    prepare(line, folder)
    code = run(line)
    said = capsys.readouterr()
    assert code == 0, said.err


def prepare(line: str, folder: Path) -> None:
    """Make what an example takes from an earlier one, and clear what it would refuse to replace."""
    if line.startswith("sepkit films") and not (folder / "badge-black-tee").exists():
        run('sepkit separate badge.svg --on "black tee" --width 90mm --film-dpi 300 --quiet')
    prepare_files(line, folder)
    if "run.csv" in line:
        fill_in_a_run(folder)
    if "drop.toml" in line and "--new" not in line and not (folder / "drop.toml").exists():
        run("sepkit job --new drop.toml")
    if line.startswith("sepkit gang drop.toml"):
        for art in ("harbour-flat.png", "lantern-lines.svg", "neck-label.svg"):
            shutil.copy(sample_art_folder() / art, folder / art)
    if "--read wedge.csv" in line:
        if not (folder / "wedge.csv").exists():
            run("sepkit wedge -o wedge.pdf")
        sheet = (folder / "wedge.csv").read_text("utf-8")
        for empty, filled in (("mesh,\n", "mesh,77-55\n"), ("tone,35,50,", "tone,35,50,64"), ("line,\n", "line,0.3\n")):
            sheet = sheet.replace(empty, filled, 1)
        (folder / "wedge.csv").write_text(sheet, "utf-8")
    if line == "sepkit job --new drop.toml":
        (folder / "drop.toml").unlink(missing_ok=True)
    for left in ("recipes/inks/shop-red.toml",) if line.startswith("sepkit ink measure") else ():
        (folder / left).unlink(missing_ok=True)


def fill_in_a_run(folder: Path) -> None:
    """Make the drop, and a copy of its run.csv with what was printed."""
    if not (folder / "drop").exists():
        run("sepkit job --new drop.toml")
        run("sepkit job drop.toml -o drop")
    head, *rows = (folder / "drop" / "run.csv").read_text("utf-8").splitlines()
    at = head.split(",").index("actual")
    filled = [row.split(",") for row in rows]
    lines = [",".join([*row[:at], "1" if row[1] == "print" else "", *row[at + 1 :]]) for row in filled]
    (folder / "run.csv").write_text("\n".join([head, *lines]) + "\n", "utf-8")


def prepare_files(line: str, folder: Path) -> None:
    """Write the small files that an example names."""
    if line.startswith("sepkit shop"):
        (folder / "my-shop.toml").write_text('schema = "sepkit.shop/1"\n', "utf-8")
        run("sepkit shop --from my-shop.toml")
    if "logo.png" in line:
        shutil.copy(folder / "badge.png", folder / "logo.png")
