"""The benches beside the table: what the page answers is what the command line tells and writes."""

from __future__ import annotations

import json
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.workshop.page.drop import sizes_of
from tests.helpers.page_server import serving
from tests.helpers.photographs import Spot, random_shot, take_photo
from tests.helpers.printed_cloth import printed_folder
from tests.helpers.runner import run
from tests.helpers.small_prints import small_folder


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("benches")) as running:
        yield running


def badge(path: Path) -> Path:
    rgba = np.zeros((60, 90, 4), np.uint8)
    rgba[5:55, 5:45] = (200, 40, 40, 255)
    rgba[5:55, 45:85] = (240, 200, 60, 255)
    Image.fromarray(rgba).save(path)
    return path


def test_the_ink_bench_tells_what_the_command_line_tells(server, capsys):
    asked = {"target": "#bf2f3a", "garment": "black tee", "batch_g": "400"}
    said = server.ask("POST", "/api/ink/match", asked).json()
    assert run("ink", "match", "#bf2f3a", "--on", "black tee", "--batch", "400", "--json") == 0
    told = json.loads(capsys.readouterr().out)["targets"][0]
    assert [[dose["mass_g"] for dose in one["doses"]] for one in said["recipes"]] == [
        one["grams"] for one in told["recipes"]
    ]
    assert [look["srgb"] for look in said["prints"]] == [look["srgb"] for look in told["prints"]]
    parts = [{"ink": "white", "parts": 95}, {"ink": "red", "parts": "5"}]
    tint = server.ask("POST", "/api/ink/tint", {"parts": parts, "garment": "black tee"}).json()
    assert [dose["mass_g"] for dose in tint["doses"]] == [475.0, 25.0]
    assert sum(step["asked"] for step in tint["steps"]) == 1
    label = server.ask("POST", "/api/ink/label", {"garment": "white tee"}).json()
    assert sum(row["advised"] for row in label["rows"]) == 1
    pot = {"parts": [{"ink": "white", "parts": 400}, {"ink": "red", "parts": 50}], "measured": "#e08080"}
    repair = server.ask("POST", "/api/ink/correct", {**pot, "target": "#e06060"}).json()
    assert [one["advised"] for one in repair["additions"]].count(True) == 1
    assert repair["additions"][0]["doses"] == []


@pytest.mark.parametrize(
    ("what", "body"),
    [
        ("match", {"target": "/etc/passwd@1,1", "garment": "black tee"}),
        ("match", {"target": "colours.csv", "garment": "black tee"}),
        ("match", {"target": [], "garment": "black tee"}),
        ("match", {"target": "#bf2f3a", "garment": "no such tee"}),
        ("tint", {"parts": "white", "garment": "black tee"}),
        ("tint", {"parts": [{"ink": "white", "parts": "much"}], "garment": "black tee"}),
        ("label", {"garment": "white tee", "count": 1e300}),
        ("correct", {"parts": [], "measured": "#e08080"}),
        ("nothing", {}),
    ],
)
def test_what_makes_no_sense_at_the_ink_bench_is_told(server, what, body):
    answer = server.ask("POST", f"/api/ink/{what}", body)
    assert answer.status in (404, 422)
    assert set(answer.json()) >= {"error", "hint", "code"}


def test_orders_as_people_type_them():
    assert sizes_of("S 4, M:10; 2XL=1\nL 0") == {"S": 4, "M": 10, "2XL": 1}


def test_a_drop_is_made_as_the_command_line_makes_it(server, tmp_path):
    """Two garments and an edit: the job file that the page writes gives the same folder to `sepkit job`."""
    art = badge(tmp_path / "badge.png")
    first = server.laid(art, garment="white tee", width_mm=40)
    second = server.laid(art, garment="navy tee", width_mm=40)
    change = {"do": "ink", "of": first["state"]["areas"][0]["srgb"], "set": {"name": "sun"}}
    server.ask("POST", f"/api/print/{first['id']}/edit", {"rev": first["rev"], "change": change})
    bad = server.ask("POST", "/api/drop/make", {"folder": "spring"})
    assert bad.status == 422
    assert "how many of white tee" in bad.json()["error"]
    orders = [
        {"garment": "white tee", "sizes": "S 3, M 6", "price": "4,20"},
        {"garment": "navy tee", "sizes": "M 5", "price": ""},
    ]
    places = [{"print": one["id"], "place": "full front"} for one in (first, second)]
    drop = server.ask("POST", "/api/drop/set", {"title": "Spring", "orders": orders, "places": places}).json()
    assert drop["missing"] == ""
    assert [one["garments"] for one in drop["prints"]] == [["white tee"], ["navy tee"]]  # one of them was changed
    assert server.ask("POST", "/api/drop/check", {}).status == 200
    made = server.ask("POST", "/api/drop/make", {"folder": "spring"}).json()
    assert made["title"] == "Spring"
    assert {line["garment"] for line in made["blanks"]} == {"white tee", "navy tee"}
    picture = server.ask("GET", f"/api/made/picture?folder=spring&name={made['gang'][0]}")
    assert picture.body.startswith(b"\x89PNG")
    assert run("job", server.folder / "drop.toml", "-o", tmp_path / "cli", "--quiet") == 0
    ours, theirs = server.folder / "spring", tmp_path / "cli"
    names = sorted(str(path.relative_to(ours)) for path in ours.rglob("*") if path.is_file())
    assert names == sorted(str(path.relative_to(theirs)) for path in theirs.rglob("*") if path.is_file())
    differ = [name for name in names if (ours / name).read_bytes() != (theirs / name).read_bytes()]
    assert set(differ) <= {"job.json"}  # its list of files tells when each was written
    assert any(path.name == "edits.toml" for path in ours.rglob("*"))
    assert server.ask("POST", "/api/drop/make", {"folder": "spring"}).json()["unchanged"] is True
    same = server.ask("POST", "/api/drop/plan", {}).json()
    assert (same["same"], same["missing"], same["minutes"]) == (True, [], made["minutes"])
    more = [{**orders[0], "sizes": "S 3, M 26"}]
    server.ask("POST", "/api/drop/set", {"orders": more})
    live = server.ask("POST", "/api/drop/plan", {}).json()
    assert live["same"] is False
    assert sum(line["ordered"] for line in live["blanks"]) == 34
    assert json.loads((ours / "job.json").read_text())["minutes"] == made["minutes"]  # nothing was written
    again = server.ask("POST", "/api/drop/make", {"folder": "spring"}).json()
    assert again["prints_kept"] == 2
    assert {key: again[key] for key in made if key in live} == {key: live[key] for key in made if key in live}
    own = server.folder / "drop.toml"
    own.write_text('title = "mine"\n')
    assert server.ask("POST", "/api/drop/check", {}).status == 200
    assert own.read_text() == 'title = "mine"\n'  # a person's own file of that name is not touched


@pytest.mark.parametrize(
    "query",
    ["folder=..&name=x.png", "folder=spring&name=../../secret.png", "folder=/etc&name=passwd", "folder=&name=", ""],
)
def test_pictures_come_from_made_folders_only(server, query):
    (server.folder.parent / "secret.png").write_bytes(b"\x89PNG secret")
    assert server.ask("GET", f"/api/made/picture?{query}").status == 404


@pytest.fixture(scope="module")
def photo(server, tmp_path_factory):
    """A print folder in the working folder, and a photograph of its print, dropped; its name."""
    beside = tmp_path_factory.mktemp("photo")
    folder = small_folder(beside / "lantern")
    printed = printed_folder(folder)
    shot = random_shot(printed, 8, px_per_mm=7.0, sizes=())
    shot.spots = [Spot("void", 1, 12.0, 32.0, 1.2)]
    shutil.copytree(folder, server.folder / "lantern")
    return server.ask("PUT", "/api/photo?name=test.jpg", data=take_photo(printed, shot).jpeg).json()["photo"]


def test_a_photograph_is_held_against_its_folder(server, photo):
    name = photo
    assert any(one["name"] == "lantern" for one in server.ask("GET", "/api/made").json()["folders"])
    said = server.ask("POST", "/api/photo/inspect", {"folder": "lantern", "photos": [name]}).json()
    made = server.folder / "lantern-inspected"
    names = {path.name for path in made.iterdir()}
    assert {"marked.png", "spots.csv", "inspection.json", "inspection.html"} <= names
    assert [one["name"] for one in said["moves"]] == ["white", "red", "yellow"]
    assert any(spot["kind"] == "void" for spot in said["spots"])
    marked = server.ask("GET", "/api/made/picture?folder=lantern-inspected&name=marked.png")
    assert marked.body == (made / "marked.png").read_bytes()
    assert server.ask("POST", "/api/photo/wedge-film", {}).json()["files"] == ["wedge.pdf", "wedge.csv"]
    for photos in ([], ["none.jpg"], ["../x.jpg"], "test.jpg", [3]):
        answer = server.ask("POST", "/api/photo/inspect", {"folder": "lantern", "photos": photos})
        assert answer.status in (404, 422)


def test_long_work_is_told_and_stopped(server, photo):
    """The pulse tells how far the work is; stopped, it ends at once, writes nothing, and the bench works again."""
    shutil.copytree(server.folder / "lantern", server.folder / "again")
    body = {"folder": "again", "photos": [photo]}
    with ThreadPoolExecutor(1) as beside:
        work = beside.submit(server.ask, "POST", "/api/photo/inspect", body)
        told = set()
        while not work.done() and not told - {"starting", "working"}:
            at = server.ask("GET", "/api/pulse").json()["benches"]["photo"]
            told |= {at["stage"]} if at else set()
        assert server.ask("POST", "/api/stop/photo", {}).json() == {"stopped": "photo"}
        answer = work.result(60)
    assert told - {"starting", "working"}, "what it is at is told"
    assert (answer.status, answer.json()["error"], answer.json()["hint"]) == (422, "stopped", "nothing was changed")
    assert not (server.folder / "again-inspected").exists()
    pulse = server.ask("GET", "/api/pulse").json()["benches"]
    assert pulse == {"drop": None, "ink": None, "photo": None}
    assert server.ask("POST", "/api/photo/guide", {}).json()["text"]
    assert server.ask("POST", "/api/stop/else", {}).status == 404
