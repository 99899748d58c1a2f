"""What a person wished of a print, as JSON values of its record, and back. Inks stand by their place in a list."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sepkit.decisions import AreaWish, BaseRules, Wishes
from sepkit.files.folders.parts import JsonTable, mesh_json, mesh_of
from sepkit.model import BASE_RULES, DOT_SHAPES, WHITE_SCREENS, InkRequest
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from sepkit.model import BaseRule, Ink


def wishes_json(wishes: Wishes, place_of: Callable[[Ink], int]) -> JsonTable:
    """Return the wishes; ``place_of`` tells an ink's place in the record's list."""
    return {
        "inks": {
            "count": wishes.inks.count,
            "named": [{"label": label, "srgb": to_hex(srgb)} for label, srgb in wishes.inks.named],
        },
        "base": {"every": wishes.base.every, "single": dict(wishes.base.single)},
        "all_inks": wishes.all_inks,
        "most_screens": wishes.most_screens,
        "trap_mm": wishes.trap_mm,
        "choke_mm": wishes.choke_mm,
        "overprint_mm": wishes.overprint_mm,
        "overprint_colours": wishes.overprint_colours,
        "tolerance_de00": wishes.tolerance_de00,
        "white_screens": wishes.white_screens,
        "highlight": wishes.highlight,
        "light_base": wishes.light_base,
        "mesh": mesh_json(wishes.mesh),
        "lpi": wishes.lpi,
        "angle_deg": wishes.angle_deg,
        "shape": wishes.shape,
        "as_brought": wishes.as_brought,
        "solved": wishes.solved,
        "areas": [
            {
                "srgb": to_hex(srgb),
                "ink": None if wish.ink is None else place_of(wish.ink),
                "base": wish.base,
                "coats": wish.coats,
                "mesh": mesh_json(wish.mesh),
                "name": wish.name,
            }
            for srgb, wish in wishes.areas.items()
        ],
        "order": [to_hex(srgb) for srgb in wishes.order],
    }


def wishes_of(entry: Mapping[str, Any], inks: tuple[Ink, ...]) -> Wishes:
    """Return the wishes of ``wishes_json``."""
    shapes = {shape: shape for shape in DOT_SHAPES}
    whites = {words: words for words in WHITE_SCREENS}
    asked, base = entry["inks"], entry["base"]
    return Wishes(
        inks=InkRequest(
            None if asked["count"] is None else int(asked["count"]),
            tuple((str(one["label"]), parse_hex(one["srgb"])) for one in asked["named"]),
        ),
        base=BaseRules(_rule(base["every"]), {str(name): _rule(rule) for name, rule in base["single"].items()}),
        all_inks=bool(entry.get("all_inks", False)),
        most_screens=None if entry.get("most_screens") is None else int(entry["most_screens"]),
        trap_mm=_number(entry["trap_mm"]),
        choke_mm=_number(entry["choke_mm"]),
        overprint_mm=float(entry["overprint_mm"]),
        overprint_colours=bool(entry["overprint_colours"]),
        tolerance_de00=float(entry["tolerance_de00"]),
        white_screens=whites[entry["white_screens"]],
        highlight=bool(entry["highlight"]),
        light_base=bool(entry["light_base"]),
        mesh=None if entry["mesh"] is None else mesh_of(entry["mesh"]),
        lpi=_number(entry["lpi"]),
        angle_deg=_number(entry["angle_deg"]),
        shape=shapes[entry["shape"]],
        as_brought=bool(entry.get("as_brought", False)),
        solved=bool(entry.get("solved", False)),
        areas={parse_hex(one["srgb"]): _area_wish(one, inks) for one in entry["areas"]},
        order=tuple(parse_hex(srgb) for srgb in entry["order"]),
    )


def _area_wish(entry: Mapping[str, Any], inks: tuple[Ink, ...]) -> AreaWish:
    return AreaWish(
        None if entry["ink"] is None else inks[int(entry["ink"])],
        None if entry["base"] is None else _rule(entry["base"]),
        None if entry["coats"] is None else int(entry["coats"]),
        None if entry["mesh"] is None else mesh_of(entry["mesh"]),
        str(entry.get("name", "")),
    )


def _rule(word: str) -> BaseRule:
    rules = {rule: rule for rule in BASE_RULES}
    return rules[word]  # type: ignore[index]


def _number(value: Any) -> float | None:
    return None if value is None else float(value)
