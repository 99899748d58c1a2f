"""sepkit gang from the command line: the plan, files, JSON, and one clear line for whatever is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sepkit.cli.gang import gang
from sepkit.errors import SepkitError
from sepkit.film.making import FilmMaking
from sepkit.model import Artwork, Garment, Mesh, Plate, Separation
from tests.helpers.print_folders import grey_ink, write_folder


def run(*words: object) -> Result:
    return CliRunner().invoke(gang, [str(word) for word in words])


def problem(*words: object) -> SepkitError:
    error = run(*words).exception
    assert isinstance(error, SepkitError)
    assert "\n" not in str(error)
    assert error.hint
    return error


def print_folder(folder: Path, *, mesh: Mesh) -> Path:
    """A print folder of two plates, 100 x 50 mm, as another command leaves it."""
    coverage = np.zeros((50, 100), np.uint8)
    coverage[:25, :50] = 255
    art = Artwork(np.zeros((50, 100, 3), np.uint8), np.full((50, 100), 255, np.uint8), 100.0, 50.0, "kite.png")
    cloth = Garment("black tee", "tee", (26, 26, 28), (9.0, 0.0, 0.0), np.full(31, 0.02), 180, 1.0, 0.0)
    plates = tuple(
        Plate(k, name, role, grey_ink(ink), None, (230, 230, 225), coverage, coverage, None, 1, True, None, mesh)  # type: ignore[arg-type]
        for k, (name, role, ink) in enumerate([("underbase", "underbase", "white"), ("red", "colour", "red")], 1)
    )
    return write_folder(folder, Separation(art, cloth, plates, 1.0, 2.0), making=FilmMaking(254.0))


def test_the_examples_of_the_help_run() -> None:
    text = run("--help").output
    lines = [line.strip() for line in text.splitlines() if line.strip().startswith("sepkit gang --")]
    assert len(lines) == 2
    for line in lines:
        result = run(*line.split()[2:])
        assert result.exit_code == 0, result.output
        assert "2 prints on 1 screen (no plan has fewer)" in result.stderr
        assert result.stdout == ""
    assert "turn the frame, end B to the clamp" in result.stderr


def test_an_ink_known_by_its_code_is_named_by_its_colour_too() -> None:
    said = run("--screen", "400x500mm:43-80", "--print", "kite=90x80mm:#1b7482").stderr
    assert "mesh 43-80, teal #1b7482" in said


def test_json_tells_places_steps_and_proof() -> None:
    result = run(
        "--screen", "400x500mm:43-80:2", "--print", "chest=90x80mm:white", "--print", "label=60x50mm:white", "--json"
    )
    record = json.loads(result.stdout)
    assert record["ok"]
    assert record["schema"] == "sepkit.gang/1"
    assert record["proven"]
    assert record["screens_one_each"] == 2
    (screen,) = record["screens"]
    assert screen["mesh"] == "43-80"
    assert {p["name"]: p["shift_mm"] for p in screen["prints"]} == {"chest": 0.0, "label": 0.0}
    assert [s["taped"] for s in screen["steps"]] == [["label"], ["chest"]]


def test_print_folders_give_films_of_whole_screens(tmp_path: Path) -> None:
    import pikepdf

    folder = print_folder(tmp_path / "kite", mesh=Mesh(43, 80))
    out = tmp_path / "screens"
    result = run(
        "--screen", "400x500mm", "--print", f"front={folder}", "--print", f"back={folder}", "--film-dpi", 254, "-o", out
    )
    assert result.exit_code == 0, result.output
    record = json.loads((out / "gang.json").read_text("utf-8"))
    # Base and colour of a print are on different screens; two prints of one ink share one.
    assert [sorted(p["name"] for p in s["prints"]) for s in record["screens"]] == [
        ["back/red", "front/red"],
        ["back/underbase", "front/underbase"],
    ]
    assert len(result.stdout.splitlines()) == 4
    for screen in record["screens"]:
        with Image.open(out / screen["drawing"]) as drawing:
            assert drawing.width == 1500
        with pikepdf.open(out / screen["film"]["file"]) as pdf:
            masks = [x for page in pdf.pages for _, x in page.Resources.XObject.items()]
            assert [(m.Width, m.Height) for m in masks] == [(1000, 500), (1000, 500)]
    assert run("--screen", "400x500mm", "--print", f"front={folder}", "-o", out).exit_code != 0  # never overwritten


def test_plates_of_print_folders_share_the_mesh_that_the_frames_have(tmp_path: Path) -> None:
    coarse = print_folder(tmp_path / "coarse", mesh=Mesh(43, 80))
    fine = print_folder(tmp_path / "fine", mesh=Mesh(77, 55))
    words = ["--print", f"a={coarse}", "--print", f"b={fine}", "--json"]
    free = json.loads(run("--screen", "400x500mm", *words).stdout)
    assert len(free["screens"]) == 4
    record = json.loads(run("--screen", "400x500mm:55-64", *words).stdout)
    assert {s["mesh"] for s in record["screens"]} == {"55-64"}
    assert [len(s["prints"]) for s in record["screens"]] == [2, 2]
    assert sorted(f["code"] for f in record["findings"]) == ["other-mesh"] * 4


def test_sizes_alone_give_drawings_and_no_films(tmp_path: Path) -> None:
    out = tmp_path / "screens"
    result = run("--screen", "400x500mm", "--print", "label=60x50mm", "-o", out, "--quiet")
    assert result.stdout.strip() == str(out)
    assert sorted(p.name for p in out.iterdir()) == ["gang.json", "screen-01-55-64.png"]


def test_a_print_that_fits_nowhere_ends_with_code_8_and_the_others_are_planned() -> None:
    result = run("--screen", "400x500mm", "--print", "back=380x420mm", "--print", "label=60x50mm", "--json")
    assert isinstance(result.exception, SepkitError)
    assert result.exception.exit_code == 8
    assert "back" in str(result.exception)
    record = json.loads(result.stdout)
    assert not record["ok"]
    assert record["left_out"] == ["back"]
    assert [p["name"] for s in record["screens"] for p in s["prints"]] == ["label"]
    turned = problem("--screen", "400x500mm", "--print", "sleeve=320x70mm")
    assert "sideways" in turned.hint
    assert run("--screen", "400x500mm", "--print", "sleeve=320x70mm", "--sideways", "sleeve").exit_code == 0


def test_inks_and_meshes_are_never_mixed() -> None:
    result = run(
        "--screen",
        "400x500mm",
        "--print",
        "a=60x50mm:white:43-80",
        "--print",
        "b=60x50mm:black:43-80",
        "--print",
        "c=60x50mm:white:77-55",
        "--print",
        "d=60x50mm:white:43-80",
        "--json",
    )
    groups = [sorted(p["name"] for p in s["prints"]) for s in json.loads(result.stdout)["screens"]]
    assert sorted(groups) == [["a", "d"], ["b"], ["c"]]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--screen", "400x500mm"], 2, "no --print"),
        (["--print", "a=50x50mm"], 2, "no --screen"),
        (["--screen", "foo", "--print", "a=50x50mm"], 2, "not a size"),
        (["--screen", ":43-80", "--print", "a=50x50mm"], 2, "no size"),
        (["--screen", "400x500mm", "--print", "50x50mm"], 2, "no name"),
        (["--screen", "400x500mm", "--print", "a=no-such-folder"], 2, "neither a size nor a print folder"),
        (["--screen", "400x500mm", "--print", "a=50x50mm:white:x:43-80"], 2, "too many parts"),
        (["--screen", "400x500mm:43-80", "--screen", "500x600mm:77-55", "--print", "a=50x50mm"], 2, "no mesh"),
        (["--screen", "400x500mm", "--print", "a=50x50mm", "--print", "a=60x50mm"], 2, "given twice"),
        (["--screen", "400x500mm:400-80", "--print", "a=50x50mm"], 2, "cannot be woven"),
        (["--screen", "400x500mm", "--print", "a=50x50mm", "--sideways", "b"], 2, 'no print is named "b"'),
        (["--screen", "10x500mm", "--print", "a=50x50mm"], 2, "outside"),
        (["--screen", "400x500mm:0", "--print", "a=50x50mm"], 2, "none"),
        (["--screen", "400x500mm", "--print", "a=50x50mm", "--platen", "300"], 2, "not a size"),
        (["--screen", "400x500mm", "--print", "a=50x50mm", "--sheet", "A3", "--roll", "432mm"], 2, "both"),
        (["job.toml", "--screen", "400x500mm"], 2, "both a job file and --screen"),
        (["job.toml", "--lane", "40mm"], 2, "both a job file and --lane"),
        (["no-such-job.toml"], 3, "no-such-job.toml"),
    ],
)
def test_bad_input_is_one_clear_line(words: list[str], code: int, says: str) -> None:
    error = problem(*words)
    assert error.exit_code == code
    assert says in str(error)


def test_nothing_is_left_behind_when_the_film_cannot_be_made(tmp_path: Path) -> None:
    folder = print_folder(tmp_path / "kite", mesh=Mesh(43, 80))
    out = tmp_path / "screens"
    error = problem("--screen", "400x500mm", "--print", f"front={folder}", "--sheet", "60x60mm", "-o", out)
    assert error.exit_code == 2
    assert [p.name for p in tmp_path.iterdir()] == ["kite"]
