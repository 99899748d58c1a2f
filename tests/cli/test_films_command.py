from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.cli.films import films
from sepkit.model import Mesh
from sepkit.press.moire import draw, suggest
from tests.helpers.print_folders import make_folder


def run(folder, *options):
    from click.testing import CliRunner

    return CliRunner().invoke(films, [str(folder), *options])


def whole(*arguments, limit_bytes=None):
    """The command as a process, so that exit code and stderr are what a person sees."""

    def limit():
        if limit_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit_bytes))

    return subprocess.run(
        [sys.executable, "-m", "sepkit", "films", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=limit,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )


def record_of(folder):
    return json.loads((folder / "separation.json").read_text())


def state(folder):
    """Every file's name and bytes."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_films_are_written_and_listed(tmp_path):
    folder = make_folder(tmp_path / "a", toned=False)
    done = run(folder, "--tiff", "--png", "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert [Path(p).name for p in told["files"]] == [
        "films.pdf",
        "01-ink-1.pdf",
        "01-ink-1.tif",
        "01-ink-1.png",
        "02-ink-2.pdf",
        "02-ink-2.tif",
        "02-ink-2.png",
    ]
    assert all(Path(p).stat().st_size > 500 for p in told["files"])
    assert told["film"] == {"dpi": 360.0, "width_px": 720, "height_px": 576}
    assert sorted(p.name for p in folder.iterdir()) == ["films", "films.pdf", "plates", "separation.json"]


def test_new_settings_reach_film_and_record(tmp_path):
    folder = make_folder(tmp_path / "a")
    assert run(folder, "--dpi", "720", "--lpi", "30", "--angle", "10", "--shape", "round", "--mirror").exit_code == 0
    record = record_of(folder)
    assert record["film"]["dpi"] == 720
    assert (record["film"]["width_px"], record["film"]["mirror"]) == (1440, True)
    assert record["plates"][0]["halftone"] == {"lpi": 30.0, "angle_deg": 10.0, "shape": "round"}
    assert record["plates"][1]["halftone"]["angle_deg"] == 40.0
    assert record["plates"][0]["coverage_pct"] > 0


def test_dot_gain_makes_films_lighter(tmp_path):
    folder = make_folder(tmp_path / "a", plates=1)

    def ink():
        with Image.open(folder / "films" / "01-ink-1.png") as image:
            # Within the art, clear of the margins.
            middle = ~np.array(image, bool)[500:800, 900:1200]
        return middle.mean()

    assert run(folder, "--png").exit_code == 0
    plain = ink()
    assert run(folder, "--png", "--edge-growth", "40um").exit_code == 0
    assert ink() < plain - 0.05
    assert run(folder, "--png", "--printed", "25:41,50:72,75:90").exit_code == 0
    assert ink() < plain - 0.05
    assert record_of(folder)["film"]["dot_gain"]["points"] == [[0.25, 0.41], [0.5, 0.72], [0.75, 0.9]]


def test_a_gain_is_kept_until_another_is_given(tmp_path):
    folder = make_folder(tmp_path / "a", plates=1)
    assert run(folder, "--edge-growth", "40um").exit_code == 0
    first = (folder / "films" / "01-ink-1.pdf").read_bytes()
    assert run(folder).exit_code == 0
    assert (folder / "films" / "01-ink-1.pdf").read_bytes() == first
    assert record_of(folder)["film"]["dot_gain"]["edge_um"] == 40
    assert run(folder, "--edge-growth", "0um").exit_code == 0
    assert (folder / "films" / "01-ink-1.pdf").read_bytes() != first
    assert "dot_gain" not in record_of(folder)["film"]


def test_dot_settings_where_nothing_is_halftoned_are_told_or_refused(tmp_path):
    folder = make_folder(tmp_path / "a", plates=1, toned=False)
    done = run(folder, "--lpi", "38", "--small-tones", "clear", "--json")
    told = {f["code"]: f["text"] for f in json.loads(done.stdout)["findings"]}
    assert told == {"no-halftones": "nothing in this art is halftoned, so --lpi, --small-tones changed nothing"}
    assert run(folder).exit_code == 0
    assert [f for f in record_of(folder)["findings"] if f["code"] == "no-halftones"] == []
    before = state(folder)
    done = whole(folder, "--lpi", "500")
    assert done.returncode == 2
    assert "500 lpi is finer than a 360 dpi film can draw" in done.stderr
    assert whole(folder, "--angle", "nan").returncode == 2
    assert state(folder) == before


def test_moire_is_drawn_on_request(tmp_path):
    folder = make_folder(tmp_path / "a", plates=2, toned=False)
    assert run(folder, "--moire", "--lpi", "45").exit_code == 0
    pictures = sorted(p.name for p in (folder / "films").glob("moire*"))
    assert pictures == ["moire-02-ink-2.png"]
    with Image.open(folder / "films" / pictures[0]) as image:
        both = np.array(image)
    mesh, angle = Mesh(77, 55), record_of(folder)["plates"][1]["halftone"]["angle_deg"]
    better = suggest(mesh, 45.0, angle, shape="ellipse")
    assert better != 45.0
    tints = np.hstack([draw(mesh, lpi, angle, shape="ellipse") for lpi in (45.0, better)])
    words, drawn = np.split(both, [len(both) - len(tints)])
    assert np.array_equal(drawn, tints)
    half = words.shape[1] // 2
    assert (words[:, :half] < 100).any() and (words[:, half:] < 100).any(), "each says which ruling it is"


def test_two_processes_write_what_one_writes(tmp_path, monkeypatch):
    from sepkit.files.films import film_set
    from sepkit.workshop.print.remake import FilmOptions, remake_films

    folder = make_folder(tmp_path / "a", plates=3)
    monkeypatch.setattr(film_set, "WORTH_PIXELS", 0)
    monkeypatch.setattr(film_set, "workers_for", lambda tasks, most=2: min(tasks, most))
    remake_films(folder, FilmOptions(workers=1))
    alone = state(folder)
    remake_films(folder, FilmOptions(workers=2))
    assert state(folder) == alone


def test_tiles_on_a_sheet(tmp_path):
    folder = make_folder(tmp_path / "a", width=900, height=700, dpi=75, film_dpi=150)
    done = run(folder, "--sheet", "A4", "--tiff", "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["pages"] > 2
    assert any(p.endswith("01-ink-1-tile2.tif") for p in told["files"])
    assert "tiled-films" in {f["code"] for f in told["findings"]}
    assert record_of(folder)["film"]["tiles"] * 2 == told["pages"]


def test_the_same_films_twice_leave_one_set_of_findings(tmp_path):
    folder = make_folder(tmp_path / "a")
    for _ in range(2):
        assert run(folder, "--lpi", "60").exit_code == 0
    codes = [(f["code"], f["text"]) for f in record_of(folder)["findings"]]
    assert len(codes) == len(set(codes))
    assert "coarse-mesh" in {code for code, _ in codes}


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (["--dpi", "0"], "dpi"),
        (["--dpi", "5000"], "5000 dpi is outside"),
        (["--lpi", "200"], "finer than a 360 dpi film can draw"),
        (["--lpi", "-5"], "lpi"),
        (["--lpi", "0"], "lpi"),
        (["--angle", "steep"], "steep"),
        (["--angle", "nan"], "angle"),
        (["--sheet", "60x60mm"], "smaller than a film's margins"),
        (["--sheet", "A11"], "is no sheet"),
        (["--sheet", "A3", "--roll", "432mm"], "not both"),
        (["--edge-growth", "5mm"], "outside"),
        (["--printed", "50"], "measured point"),
        (["--printed", "50:20:3"], "measured point"),
    ],
)
def test_bad_settings_are_one_line_and_change_nothing(tmp_path, options, text):
    folder = make_folder(tmp_path / "a", plates=1)
    before = state(folder)
    done = whole(folder, *options)
    assert done.returncode == 2
    assert text in done.stderr
    assert "Traceback" not in done.stderr
    assert state(folder) == before


def damage_missing(folder):
    (folder / "plates" / "printed" / "01-ink-1.png").unlink()


def damage_cut(folder):
    path = folder / "plates" / "printed" / "01-ink-1.png"
    path.write_bytes(path.read_bytes()[:900])


def damage_record(folder):
    (folder / "separation.json").write_text("{")


def damage_newer(folder):
    record = record_of(folder) | {"schema": "sepkit.separation/2"}
    (folder / "separation.json").write_text(json.dumps(record))


def damage_keys(folder):
    record = record_of(folder)
    del record["plates"][0]["mesh"]
    (folder / "separation.json").write_text(json.dumps(record))


def damage_outside(folder):
    record = record_of(folder)
    record["plates"][0]["printed"] = "../../etc/passwd"
    (folder / "separation.json").write_text(json.dumps(record))


def damage_film_name(folder):
    record = record_of(folder)
    record["plates"][0]["film"] = "films/../../x.pdf"
    (folder / "separation.json").write_text(json.dumps(record))


def damage_size(folder):
    with Image.open(folder / "plates" / "tone" / "01-ink-1.png") as image:
        small = image.resize((10, 10))
    small.save(folder / "plates" / "tone" / "01-ink-1.png")


@pytest.mark.parametrize(
    "damage",
    [damage_missing, damage_cut, damage_record, damage_newer, damage_keys, damage_outside, damage_size],
)
def test_a_damaged_folder_is_one_line(tmp_path, damage):
    folder = make_folder(tmp_path / "a")
    damage(folder)
    before = state(folder)
    done = whole(folder)
    assert done.returncode == 7, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "sepkit separate" in done.stderr or "update sepkit" in done.stderr
    assert state(folder) == before


def test_a_film_never_leaves_its_folder(tmp_path):
    folder = make_folder(tmp_path / "a")
    damage_film_name(folder)
    assert run(folder).exit_code == 0
    assert not (tmp_path / "x.pdf").exists()
    assert (folder / "films" / "x.pdf").is_file()


def test_no_folder_at_all(tmp_path):
    done = whole(tmp_path / "nothing")
    assert done.returncode == 7
    assert "not a print folder" in done.stderr


def test_an_error_in_a_worker_is_the_same_line(tmp_path, monkeypatch):
    from sepkit.errors import WriteError
    from sepkit.files.films import film_set
    from sepkit.workshop.print.remake import FilmOptions, remake_films

    folder = make_folder(tmp_path / "a", plates=3)
    damage_cut(folder)
    monkeypatch.setattr(film_set, "WORTH_PIXELS", 0)
    monkeypatch.setattr(film_set, "workers_for", lambda tasks, most=2: min(tasks, most))
    lines = []
    for workers in (1, 2):
        with pytest.raises(WriteError) as caught:
            remake_films(folder, FilmOptions(workers=workers))
        lines.append(str(caught.value))
    assert lines[0] == lines[1]
    assert "01-ink-1.png" in lines[0]


def test_plates_of_a_worker_that_dies_are_made_here(tmp_path, monkeypatch):
    from concurrent.futures.process import BrokenProcessPool

    from sepkit.files.films import film_set
    from sepkit.workshop.print.remake import FilmOptions, remake_films

    folder = make_folder(tmp_path / "a", plates=3)
    remake_films(folder, FilmOptions(workers=1))
    before = state(folder)

    def dies(*_):
        raise BrokenProcessPool("a worker was killed")

    monkeypatch.setattr(film_set, "WORTH_PIXELS", 0)
    monkeypatch.setattr(film_set, "workers_for", lambda tasks, most=2: min(tasks, most))
    monkeypatch.setattr(film_set, "_in_processes", dies)
    remake_films(folder, FilmOptions(workers=2))
    assert state(folder) == before


@pytest.mark.parametrize("limit", [20_000, 150_000])
def test_a_disk_that_fills_leaves_the_old_films(tmp_path, limit):
    """A limit on file size stands in for a full disk: the write fails part way."""
    folder = make_folder(tmp_path / "a", plates=3)
    assert run(folder).exit_code == 0
    before = state(folder)
    done = whole(folder, "--dpi", "720", limit_bytes=limit)
    assert done.returncode == 7, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert state(folder) == before


def test_help_has_examples_and_they_parse(tmp_path):
    from click.testing import CliRunner

    text = CliRunner().invoke(films, ["--help"]).output
    lines = [line.split()[3:] for line in text.splitlines() if line.strip().startswith("sepkit films ")]
    assert len(lines) >= 3
    folder = make_folder(tmp_path / "a", plates=1)
    for options in lines:
        assert run(folder, *options).exit_code == 0
