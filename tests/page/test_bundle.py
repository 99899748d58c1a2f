"""The page's modules as one file: all of them, and what cannot be made so.

That a browser takes the file, and in what order modules run, is in ``test_page_browser.py``.
"""

from __future__ import annotations

import pytest

from sepkit.page.bundle import bundled
from sepkit.page.static_files import STATIC, static_files


def test_every_module_of_the_page_is_in_its_one_file():
    files = static_files()
    whole, names = files["page.js"].data.decode(), [path.stem for path in STATIC.glob("*.js")]
    assert len(names) > 10
    assert all(f"const $${name} = once(" in whole for name in names)
    assert whole.rstrip().endswith("$$app();")


@pytest.mark.parametrize(
    ("modules", "told"),
    [
        ({"app": 'import { a } from "/s/b.js";\n', "b": 'import { c } from "/s/app.js";\n'}, "ring: app > b > app"),
        ({"app": 'import { a } from "/s/b.js";\n'}, "no module b"),
        ({"app": 'import("/s/b.js");\n'}, "no module b"),
        ({"app": "let a;\nexport { a };\n"}, "app.js, line 2"),
        ({"app": 'import { a as b } from "/s/b.js";\n', "b": "export const a = 1;\n"}, "app.js, line 1"),
        ({"app": "let b;\nexport const a = f(1, [2]), c = 2;\n"}, "app.js, line 2"),
        ({"app": 'import * as a from "/s/b.js";\n', "b": ""}, "app.js, line 1"),
    ],
)
def test_what_cannot_be_bundled_is_told(modules, told):
    with pytest.raises(ValueError, match=told):
        bundled(modules, "app")
