"""The page's modules as one file, made when they are served: one request in place of one for each of them.

In: the text of plain modules, by name. Out: one module. The sources stay files of their own, which a browser takes as
they are (``/s/NAME``): each is wrapped into a function that runs once, when it is first imported, and gives what it
exports. Import and export have the few forms that the page uses; anything else raises ValueError.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

_IMPORT = re.compile(r'^import \{ ([\w$, ]+) \} from "/s/(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const) ([\w$]+))", re.MULTILINE)
_LATER = re.compile(r'\bimport\("/s/(\w+)\.js"\)')
_LEFT = re.compile(r'^(?:import|export)\b|\bimport\(|from "/s/', re.MULTILINE)
_ONCE = "const once = (make) => { let made; return () => (made ??= make()); };\n"


def bundled(modules: Mapping[str, str], first: str) -> str:
    """Return modules (name without ``.js`` -> text) as one, of which ``first`` is run.

    Raises ValueError for a module that there is not, a ring of imports, or a form of import or export not known here.
    """
    order: list[str] = []
    _in_order(modules, first, (), order)
    for name in modules:  # what is imported later, if at all
        if name not in order:
            _in_order(modules, name, (), order)
    return _ONCE + "".join(_wrapped(name, modules) for name in order) + f"$${first}();\n"


def _in_order(modules: Mapping[str, str], name: str, within: tuple[str, ...], order: list[str]) -> None:
    if name in within:
        raise ValueError(f"modules import each other in a ring: {' > '.join((*within, name))}")
    if name not in modules:
        raise ValueError(f"no module {name}")
    if name not in order:
        for _, other in _IMPORT.findall(modules[name]):
            _in_order(modules, other, (*within, name), order)
        order.append(name)


def _wrapped(name: str, modules: Mapping[str, str]) -> str:
    text = modules[name]
    given = _EXPORT.findall(text)
    text = _IMPORT.sub(r"const { \1 } = $$\2();", text)
    text = _EXPORT.sub("", text)
    later = set(_LATER.findall(text))
    text = _LATER.sub(r"Promise.resolve().then($$\1)", text)
    if found := _LEFT.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise ValueError(f"{name}.js, line {line}: import and export are not bundled in this form")
    if missing := later - set(modules):
        raise ValueError(f"no module {', '.join(sorted(missing))}")
    return f"const $${name} = once(() => {{\n{text}\nreturn {{ {', '.join(given)} }};\n}});\n"
