"""The page's modules as one file, made when they are served: one request in place of one for each of them.

In: the text of plain modules, by name. Out: one module. The sources stay files of their own, which a browser takes as
they are (``/s/NAME``): each is wrapped into a function that runs once, when it is first imported, and gives what it
exports. Import and export have the few forms that the page uses; anything else raises ValueError.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

_IMPORT = re.compile(r'^import \{ ([\w$]+(?:, [\w$]+)*) \} from "/s/(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const) ([\w$]+))", re.MULTILINE)
_LATER = re.compile(r'\bimport\("/s/(\w+)\.js"\)')
_LEFT = re.compile(r'^(?:import|export)\b|\bimport\(|from "/s/', re.MULTILINE)
_CONST = re.compile(r"^export const ", re.MULTILINE)
_TOKEN = re.compile(r"""(["'`])(?:\\.|(?!\1)[^\\])*\1|//[^\n]*|/\*.*?\*/|[()\[\]{},;]""", re.DOTALL)
"""What parts a declaration: brackets, commas, its end; texts and comments are passed over whole."""
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
    for one in _CONST.finditer(text):
        if _lists(text, one.end()):
            raise _unknown(name, text, one.start())
    text = _IMPORT.sub(r"const { \1 } = $$\2();", text)
    text = _EXPORT.sub("", text)
    later = set(_LATER.findall(text))
    text = _LATER.sub(r"Promise.resolve().then($$\1)", text)
    if found := _LEFT.search(text):
        raise _unknown(name, text, found.start())
    if missing := later - set(modules):
        raise ValueError(f"no module {', '.join(sorted(missing))}")
    return f"const $${name} = once(() => {{\n{text}\nreturn {{ {', '.join(given)} }};\n}});\n"


def _lists(text: str, at: int) -> bool:
    """Return whether a declaration has a comma outside of all brackets: then it declares more than one name."""
    depth = 0
    for found in _TOKEN.finditer(text, at):
        token = found[0]
        if token in "([{":
            depth += 1
        elif token in ")]}":
            depth -= 1
        elif token in ",;" and not depth:
            return token == ","
    return False


def _unknown(name: str, text: str, at: int) -> ValueError:
    line = text.count("\n", 0, at) + 1
    return ValueError(f"{name}.js, line {line}: import and export are not bundled in this form")
