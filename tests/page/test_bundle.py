"""The page's modules as one file: all of them, in an order that works, and packed for whoever takes it so."""

from __future__ import annotations

import gzip
import shutil
import subprocess

import pytest

from sepkit.page.bundle import bundled
from sepkit.page.static_files import STATIC, static_files


def test_every_module_of_the_page_is_in_its_one_file(tmp_path):
    files = static_files()
    whole, names = files["page.js"].plain.decode(), [path.stem for path in STATIC.glob("*.js")]
    assert len(names) > 10
    assert all(f"const $${name} = once(" in whole for name in names)
    assert whole.rstrip().endswith("$$app();")
    assert gzip.decompress(files["page.js"].packed).decode() == whole
    assert len(files["page.js"].packed) < 40_000
    if shutil.which("node"):
        (tmp_path / "page.mjs").write_text(whole, "utf-8")
        subprocess.run(["node", "--check", tmp_path / "page.mjs"], check=True)


def test_modules_run_once_in_order_and_give_what_they_export(tmp_path):
    modules = {
        "app": 'import { Counted, one } from "/s/low.js";\n'
        'import("/s/late.js").then((m) => console.log(one, new Counted().n, m.late()));\n',
        "low": "let n = 0;\nexport class Counted { constructor() { this.n = ++n; } }\nexport const one = 1;\n",
        "late": 'import { Counted } from "/s/low.js";\nexport function late() { return new Counted().n; }\n',
    }
    text = bundled(modules, "app")
    assert text.index("$$low = ") < text.index("$$app = ")
    if shutil.which("node"):
        (tmp_path / "all.mjs").write_text(text, "utf-8")
        told = subprocess.run(["node", tmp_path / "all.mjs"], check=True, capture_output=True, text=True).stdout
        assert told == "1 1 2\n"


@pytest.mark.parametrize(
    ("modules", "told"),
    [
        ({"app": 'import { a } from "/s/b.js";\n', "b": 'import { c } from "/s/app.js";\n'}, "ring: app > b > app"),
        ({"app": 'import { a } from "/s/b.js";\n'}, "no module b"),
        ({"app": 'import("/s/b.js");\n'}, "no module b"),
        ({"app": "let a;\nexport { a };\n"}, "app.js, line 2"),
        ({"app": 'import * as a from "/s/b.js";\n', "b": ""}, "app.js, line 1"),
    ],
)
def test_what_cannot_be_bundled_is_told(modules, told):
    with pytest.raises(ValueError, match=told):
        bundled(modules, "app")
