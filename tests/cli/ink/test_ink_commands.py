from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sepkit.cli.ink.common import split_list
from sepkit.cli.ink.group import COMMANDS
from sepkit.cli.main import cli
from sepkit.errors import SepkitError

ROOT = Path(__file__).resolve().parents[3]
INK_KEYS = "name status srgb density_g_ml source"


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, ["ink", *words])


def code(result: Result) -> int:
    return result.exception.exit_code if isinstance(result.exception, SepkitError) else result.exit_code


def json_of(*words: str) -> dict[str, Any]:
    result = run(*words, "--json", "--quiet")
    assert result.stderr == "", result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.mark.parametrize("name", list(COMMANDS))
def test_the_examples_of_the_help_run(name: str, own_folder: Path) -> None:
    """Every example of every command; those that need a file or a kept recipe get one."""
    colours = "over black,#9a1f28\nover white,#bb2a33\ntint 10,#ec777f\n"
    (own_folder / "red.csv").write_text("name,hex\n" + colours, encoding="utf-8")
    assert run("tint", "white:80", "yellow:18", "red:2", "--save", "warm cream").exit_code == 0
    text = run(name, "--help").stdout
    examples = re.findall(r"^\s+sepkit ink (.+)$", text, re.MULTILINE)
    assert len(examples) >= (1 if name == "card" else 2)
    for example in examples:
        if "--photo" in example:
            continue  # takes its time to draw: read in tests/workshop/photo
        words = shlex.split(example)
        result = run(*words, *(["--force"] if "--save" in words or name == "measure" else []))
        assert code(result) in (0, 6), (example, result.output)


def test_help_of_the_group_loads_nothing_heavy() -> None:
    script = (
        "import sys\nfrom sepkit.cli.main import main\n"
        "try: main(['ink', 'match', '--help'])\nexcept SystemExit: pass\n"
        "print(sorted({'numpy', 'PIL', 'scipy', 'colour', 'skimage'} & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT).stdout
    assert out.strip().endswith("[]")


def test_a_match_never_loads_colour_science() -> None:
    script = (
        "import sys\nfrom sepkit.cli.main import main\n"
        "try: main(['ink', 'match', 'lab(52 40 20, D50/2)', '--on', 'black tee', '--quiet'])\n"
        "except SystemExit as stop: assert stop.code == 0, stop.code\n"
        "print('LOADED', sorted({'scipy', 'colour', 'skimage'} & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT).stdout
    assert out.strip().endswith("LOADED []")


def test_list_tells_every_ink() -> None:
    data = json_of("list")
    assert data["ok"] and {"white", "black"} <= {ink["name"] for ink in data["inks"]}
    assert "gold ochre" in run("list").stdout


def test_show_writes_a_card_once(own_folder: Path) -> None:
    assert run("show", "red", "--out", "card.png").exit_code == 0
    with Image.open(own_folder / "card.png") as card:
        assert card.width > 400 and len(card.getcolors(1 << 20) or []) > 10
    assert code(run("show", "red", "--out", "card.png")) == 7
    assert run("show", "red", "--out", "card.png", "--force").exit_code == 0
    assert code(run("show", "reed")) == 5


def test_match_gives_grams_that_add_up_and_prints() -> None:
    data = json_of("match", "#b4552d", "--on", "black tee", "--batch", "400", "--keep", "3")
    found = data["targets"][0]
    assert data["ok"] and found["reached"] and len(found["recipes"]) == 3
    for recipe in found["recipes"]:
        assert sum(recipe["grams"]) == pytest.approx(400)
        assert sum(recipe["percent"]) == pytest.approx(100, abs=1e-3)
    assert [(p["coats"], p["base"]) for p in found["prints"]] == [(1, False), (2, False), (1, True), (2, True)]
    assert found["prints"][2]["de00"] < found["prints"][0]["de00"]


def test_match_on_a_coarse_scale_offers_a_paste() -> None:
    found = json_of("match", "lab(90 0 3)", "--inks", "white,black,yellow", "--batch", "100", "--scale", "0.1")
    pastes = found["targets"][0]["let_downs"]
    assert pastes and all(p["main"] == "white" for p in pastes)
    assert "dose-coarse" in {f["code"] for f in found["targets"][0]["findings"]}


def test_out_of_reach_shows_the_nearest_and_exits_6() -> None:
    result = run("match", "#00ff00", "--json", "--quiet")
    assert code(result) == 6
    found = json.loads(result.stdout)
    assert found["ok"] is False and found["targets"][0]["recipes"][0]["de00"] > 5
    assert "no nearer" in str(result.exception)


def test_match_as_printed_differs_from_the_opaque_film() -> None:
    words = ("match", "#8a3b2a", "--on", "black tee", "--inks", "white,red,yellow,black", "--keep", "1")
    film, printed = json_of(*words), json_of(*words, "--as-printed")
    assert printed["targets"][0]["aim"] == "as printed"
    assert film["targets"][0]["recipes"][0]["grams"] != printed["targets"][0]["recipes"][0]["grams"]
    assert printed["targets"][0]["recipes"][0]["rounded_de00"] == pytest.approx(
        printed["targets"][0]["prints"][0]["de00"], abs=0.01
    )
    assert code(run("match", "#8a3b2a", "--as-printed")) == 2


def test_match_a_list_and_keep_a_recipe(own_folder: Path) -> None:
    (own_folder / "list.csv").write_text("name,hex\nsea,#5f8f86\nsand,#c2b280\n", encoding="utf-8")
    assert [t["target"] for t in json_of("match", "list.csv")["targets"]] == ["sea", "sand"]
    assert code(run("match", "list.csv", "--save", "x")) == 2
    kept = json_of("match", "list.csv@sand", "--save", "Stall Sand")
    assert Path(kept["file"]).name == "stall-sand.toml"
    assert json_of("show", "stall sand")["source"].startswith("mixed: ")
    again = json_of("match", "list.csv@sand")
    assert all("Stall Sand" not in r["inks"] for r in again["targets"][0]["recipes"])


def test_keeping_says_where_and_later_commands_find_it(own_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = run("match", "#c2b280", "--save", "Stall Sand").stderr
    file = own_folder / "recipes" / "inks" / "stall-sand.toml"
    assert file.is_file()
    assert 'stall-sand.toml: commands run in this folder find it as "stall sand"' in said
    assert f"set SEPKIT_RECIPES to {own_folder / 'recipes'}" in said
    assert "stall sand" in run("list").stdout.lower()
    elsewhere = own_folder / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert code(run("show", "stall sand")) == 5
    monkeypatch.setenv("SEPKIT_RECIPES", str(own_folder / "recipes"))
    assert run("show", "stall sand").exit_code == 0
    said = run("tint", "white:90", "red:10", "--save", "stall pink").stderr
    assert 'stall-pink.toml: commands find it as "stall pink"' in said and "from any folder" not in said


def test_tint_against_targets_with_a_strip(own_folder: Path) -> None:
    data = json_of("tint", "white:95", "black:5", "--on", "white tee", "--against", "#939396,silver", "--out", "s.png")
    assert (own_folder / "s.png").exists()
    assert data["looks"][0]["de00"]["#939396"] < 1.5
    assert [s["percent"] for s in data["steps"] if s["asked"]] == [5.0]
    light = [s["lab"][0] for s in data["steps"]]
    assert light == sorted(light, reverse=True)


def test_tint_keeps_lots_and_measurement_and_correct_finds_them(own_folder: Path) -> None:
    words = (
        "tint",
        "white:380",
        "yellow:90",
        "red:30",
        "--against",
        "#e0a060",
        "--save",
        "lantern",
        "--lot",
        "white=W12",
    )
    data = json_of(*words, "--measured", "lab(72 22 48)")
    text = Path(data["files"][0]).read_text(encoding="utf-8")
    assert 'lot = "W12"' in text and "measured_lab = [72.000, 22.000, 48.000]" in text
    assert code(run(*words)) == 7
    fixed = json_of("correct", "lantern", "--measured", "lab(72 22 48)", "--grams", "250")
    assert fixed["batch_g"] == 250
    assert fixed["target"]["name"] == "#e0a060"
    off = [a["de00"] for a in fixed["additions"]]
    assert off == sorted(off, reverse=True) and off[-1] < 1 < off[0]


def test_correct_that_cannot_reach_exits_6() -> None:
    words = ("correct", "white:400", "black:100", "--measured", "#5a5a5c", "--target", "#c02030", "--add", "white")
    result = run(*words)
    assert code(result) == 6
    assert "nearer" in str(result.exception)
    assert code(run("correct", "white:400", "--measured", "#5a5a5c")) == 2
    assert code(run("correct", "nothing kept", "--measured", "#5a5a5c")) == 5


def test_label_draws_and_recommends(own_folder: Path) -> None:
    data = json_of("label", "--on", "white tee", "--out", "label.png", "--count", "200")
    assert (own_folder / "label.png").stat().st_size > 3000
    low, high = data["range_percent"]
    assert low <= data["best_percent"] <= high
    assert set(data["grams"]) == {"white", "black"}
    heavy = json_of("label", "--on", "white tee", "--weight", "500")
    assert heavy["points"][-1]["flat_de00"] < data["points"][-1]["flat_de00"]


def test_contaminate_both_orders() -> None:
    data = json_of("contaminate", "black", "white", "--residue", "1")
    assert data["print_first"] == "white"
    assert data["residues"][0]["in_second_de00"] > 5 > 1 > data["residues"][0]["in_first_de00"]
    assert code(run("contaminate", "white", "White")) == 2
    assert code(run("contaminate", "white", "black", "--residue", "x")) == 2
    assert code(run("contaminate", "white", "black", "--residue", "99")) == 2


def test_measure_by_trust(own_folder: Path) -> None:
    swatch = json_of("measure", "shop red", "--swatch", "#c41f30")
    assert swatch["status"] == "estimated" and Path(swatch["file"]).exists()
    assert code(run("measure", "shop red", "--swatch", "#c41f30")) == 7
    (own_folder / "d.csv").write_text("name,hex\nover-black,#9a1f28\nOver white,#bb2a33\ntint 10 %,#ec777f\n")
    cards = json_of("measure", "shop red", "--data", "d.csv", "--density", "1.2", "--force")
    assert cards["status"] == "measured"
    assert cards["expect_tint_de00"] < swatch["expect_tint_de00"]
    assert "shop red" in {ink["name"] for ink in json_of("list")["inks"]}
    assert code(run("measure", "x")) == 2
    assert code(run("measure", "x", "--swatch", "#c41f30", "--tint", "ten:#fff")) == 2
    (own_folder / "d.csv").write_text("name,hex\nfirst,#9a1f28\n")
    assert code(run("measure", "x", "--data", "d.csv")) == 2
    assert not json_of("measure", "y", "--swatch", "#c41f30", "--no-save")["file"]


@pytest.mark.parametrize(
    ("words", "exit_code", "said"),
    [
        ("match #12", 2, "not a colour"),
        ("match lab(200,0,0)", 2, "impossible"),
        ("match red --inks nosuch", 5, "nosuch"),
        ("match red --batch 1", 2, "batch"),
        ("match red --scale 0", 2, "scale"),
        ("match red --on nosuch", 5, "nosuch"),
        ("match nofile.csv", 5, "nofile.csv"),
        ("tint white", 2, "weight"),
        ("tint white:0", 2, "no part"),
        ("tint white:50 white:50", 2, "twice"),
        ("tint white:-5", 2, "weight"),
        ("tint white:95 black:5 --lot black=1", 2, "--save"),
        ("tint white:95 black:5 --coats 99", 2, "--coats"),
        ("tint white:95 --out x.png", 2, "two inks"),
        ("tint white:95 black:5 --save ../x", 2, "name"),
        ("label --on nosuch", 5, "nosuch"),
        ("show white --out no/where/../..", 7, ""),
        ("match red --inks ,", 2, "no ink"),
        ("match red --coats nan", 2, "nan"),
        ("match nofile.png@1,2", 5, "nofile.png"),
        ("tint white:95 black:5 --coats ,", 2, "empty"),
        ("measure x --swatch #fff --density nan", 2, "nan"),
        ("measure x --tint 100:#fff", 2, "tint of"),
        ("label --on #f4f4f2 --tint white", 6, "legible"),
        ("label --on #f4f4f2 --size 3", 2, "--size"),
        ("label --on #f4f4f2 --cloth-white #fff", 2, "give both"),
        ("measure x --swatch bad", 2, "--swatch"),
        ("correct white:400 --measured #fff --grams 5", 2, "--grams"),
    ],
)
def test_bad_input_is_one_line_and_its_code(words: str, exit_code: int, said: str) -> None:
    result = run(*words.split(" "))
    assert code(result) == exit_code, result.output
    line = str(result.exception) if isinstance(result.exception, SepkitError) else result.stderr
    assert said in line
    assert "\n" not in line or not isinstance(result.exception, SepkitError)


@pytest.mark.parametrize(
    ("words", "keys", "entry", "entry_keys"),
    [
        ("list", "inks file", "inks", f"{INK_KEYS} kind contrast_ratio"),
        ("show red", "name kind status density_g_ml source looks file", "looks", "what lab srgb"),
        (
            "match #b4552d --on #f4f4f2",
            "targets file",
            "targets",
            "target lab aim reached recipes let_downs prints findings",
        ),
        ("tint white:9 red:1", "parts density_g_ml looks steps findings files", "parts", "ink percent grams"),
        ("tint white:9 red:1", "parts density_g_ml looks steps findings files", "looks", "what lab srgb de00"),
        ("tint white:9 red:1", "parts density_g_ml looks steps findings files", "steps", "percent asked lab srgb de00"),
        (
            "correct white:90 black:10 --measured #808080 --target #7c7c7f",
            "batch_g target measured_lab advised additions findings",
            "additions",
            "inks grams added_g de00 predicted_lab predicted_srgb",
        ),
        (
            "label --on #f4f4f2",
            "garment weight_g_m2 cloth_strength white tint points range_percent best_percent grams findings file",
            "points",
            "percent lab srgb inside_de00 lightness_step flat_de00 worn_de00 outside_low_de00 outside_high_de00",
        ),
        (
            "contaminate white red",
            "first second residues print_first",
            "residues",
            "percent in_first_de00 in_second_de00",
        ),
        (
            "measure x --swatch #c41f30",
            f"{INK_KEYS} fit_mean_de00 fit_worst_de00 expect_print_de00 expect_tint_de00 file findings",
            "findings",
            "code level text hint",
        ),
    ],
)
def test_the_keys_that_other_programs_read(words: str, keys: str, entry: str, entry_keys: str) -> None:
    data = json_of(*words.split())
    assert set(data) == {"ok", "schema", *keys.split()}
    assert data["schema"] == f"sepkit.ink-{words.split()[0]}/1"
    assert set(data[entry][0]) == set(entry_keys.split())


def test_a_recipe_of_which_an_ink_weighs_nothing_does_not_break_the_shelf() -> None:
    said = run("tint", "white:100", "black:0", "--batch", "100", "--save", "plain")
    assert said.exit_code == 0 and "inf" not in said.output
    assert run("match", "#b4552d").exit_code == 0
    assert json_of("correct", "plain", "--measured", "#e8e8e8", "--target", "#e8e8e8")["batch_g"] == 100


def test_lists_keep_brackets_and_pixels_whole() -> None:
    assert split_list("lab(50 0 0, D50/2), tomato ,a.png@3,4") == ["lab(50 0 0, D50/2)", "tomato", "a.png@3,4"]


def test_label_with_measured_cloth_has_a_narrower_band() -> None:
    assumed = json_of("label", "--on", "white tee")
    measured = json_of("label", "--on", "white tee", "--cloth-black", "#e0e0de", "--cloth-white", "#f3f3f1")
    assert 0.3 < measured["cloth_strength"] < 3
    bands = [p["points"][8]["outside_high_de00"] - p["points"][8]["outside_low_de00"] for p in (assumed, measured)]
    assert bands[1] < bands[0]
    assert "label-cloth-assumed" not in {f["code"] for f in measured["findings"]}
    assert code(run("label", "--on", "white tee", "--cloth-black", "#e0e0de")) == 2
