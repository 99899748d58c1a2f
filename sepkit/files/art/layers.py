"""Named layers of an SVG, each alone on the page: the same text with all others hidden.

In: UTF-8 bytes of a page that ``svg_guard`` has read. Out: Layers and texts for the renderer. A layer is a group with a
name (a label of its drawing program, else its id); where the page holds one group only, those within it. What stands
beside named groups is one layer more. Others are put into a group that is not displayed, so that what refers into them
is still drawn. Sources: SVG 1.1 (W3C), 5.2 (groups), 11.5 (display); labels: common practice of drawing programs.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from xml.parsers import expat

import numpy as np

from sepkit.files.art.svg_guard import SVG_NAMESPACE
from sepkit.files.words import shown
from sepkit.model import ArtPlate, Finding

if TYPE_CHECKING:
    from sepkit.model import U8

OTHER_LAYER = "other"
FAR = 48
"""sRGB steps from a layer's usual colour that are another colour."""
SEVERAL = 0.05
"""Share of a layer in other colours that is worth a word."""
_LABELS = ("http://www.inkscape.org/namespaces/inkscape label", "data-name")
_UNDRAWN = frozenset({"defs", "style", "metadata", "title", "desc", "namedview", "script", "symbol"})


@dataclass(slots=True)
class _Node:
    tag: str
    name: str
    start: int
    end: int = 0
    drawn: list[_Node] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of the page, and the page with it alone."""

    name: str
    text: bytes


def layers_of(data: bytes) -> tuple[Layer, ...]:
    """Return the named layers from the bottom up; none where no group has a name."""
    root = _tree(data)
    level = root
    while len(level.drawn) == 1 and level.drawn[0].tag == "g" and sum(_is_layer(n) for n in level.drawn[0].drawn) > 1:
        level = level.drawn[0]
    named = [node for node in level.drawn if _is_layer(node)]
    if not named:
        return ()
    rows = [(_name(node, named), [node]) for node in named]
    rest = [node for node in level.drawn if node not in named]
    if rest:
        rows.append((OTHER_LAYER, rest))
    colon = re.match(rb"<([\w.-]+:)?", data[root.start :])
    prefix = (colon[1] or b"") if colon else b""
    return tuple(
        Layer(name, _hidden(data, [node for node in level.drawn if node not in nodes], prefix)) for name, nodes in rows
    )


def layer_plate(name: str, pixels: U8) -> tuple[ArtPlate | None, Finding | None]:
    """Return the plate of a layer drawn alone, (h, w, 4), and a finding when it has several colours."""
    alpha = pixels[..., 3]
    solid = alpha >= max(int(alpha.max()) - 8, 1)
    if not solid.any():
        return None, None
    rgb = pixels[solid][:, :3]
    colour = np.median(rgb, axis=0)
    share = float((np.abs(rgb.astype(np.int16) - colour).max(axis=1) > FAR).mean())
    usual = (int(colour[0]), int(colour[1]), int(colour[2]))
    plate = ArtPlate(name, usual, np.ascontiguousarray(alpha))
    if share <= SEVERAL:
        return plate, None
    text = f"layer {name} has several colours: its whole shape is one plate"
    more = f"{100 * share:.0f} % of it has other colours than the rest"
    return plate, Finding("layer-colours", "warn", text, "give each ink a layer, or leave --by layer out", more=more)


def _tree(data: bytes) -> _Node:
    parser = expat.ParserCreate("utf-8", namespace_separator=" ")
    top = _Node("", "", 0)
    open_nodes = [top]
    last = [top]

    def start(qualified: str, attributes: dict[str, str]) -> None:
        namespace, _, tag = qualified.rpartition(" ")
        name = next((attributes[key] for key in _LABELS if attributes.get(key)), attributes.get("id", ""))
        node = _Node(tag, " ".join(shown(name).split()), parser.CurrentByteIndex)
        if namespace == SVG_NAMESPACE and tag not in _UNDRAWN:
            open_nodes[-1].drawn.append(node)
        open_nodes.append(node)
        last[0] = node

    def end(_qualified: str) -> None:
        node = open_nodes.pop()
        at = parser.CurrentByteIndex
        # An empty tag ends where the parser stands; any other end is a tag of its own.
        empty = last[0] is node and data[at - 2 : at] == b"/>"
        node.end = at if empty else data.index(b">", at) + 1
        last[0] = top

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.Parse(data, True)
    return top.drawn[0]


def _is_layer(node: _Node) -> bool:
    return node.tag == "g" and bool(node.name)


def _name(node: _Node, all_nodes: list[_Node]) -> str:
    """Return the layer's name, told apart from others of the same name."""
    same = [other for other in all_nodes if other.name == node.name]
    return node.name if same[0] is node else f"{node.name} {same.index(node) + 1}"


def _hidden(data: bytes, nodes: list[_Node], prefix: bytes) -> bytes:
    """Return the page with these elements not displayed."""
    out, at = [], 0
    for node in nodes:
        out += [data[at : node.start], b"<%sg style='display:none'>" % prefix, data[node.start : node.end]]
        out.append(b"</%sg>" % prefix)
        at = node.end
    return b"".join([*out, data[at:]])
