"""Every key of a job file: what it holds, its unit, range and default. The reader, --explain and --new rest on it.

One entry a key. Tables named with [[ ]] come several times.
"""

from __future__ import annotations

from dataclasses import replace

from sepkit.files.jobfile.print_keys import PRINT_KEYS
from sepkit.files.shelf.presses import SETTINGS as PRESS_SETTINGS
from sepkit.files.toml.keys import Key, allowed, choice_key, keys_of
from sepkit.jobs import INK_KINDS, OPENINGS, SPARES_RULES, WAYS

LISTS = ("print", "garment", "screen", "blade", "leftover")
"""Tables that come several times."""
TABLES = ("", "press", "heat_press", "film", "spoilage", "money", *LISTS)
SCHEMA = 1

INK_KIND = choice_key("", "ink_kind", "kind of ink", INK_KINDS, "plastisol")
OPENING = choice_key("garment", "opening", "a pocket or a zip on the front", OPENINGS, "none")
WAY = choice_key(
    "print",
    "way",
    "how more screens than heads are printed where they touch: garments waiting on platens, base one day and colours "
    "the next, or fewer inks",
    WAYS,
    "auto",
)
SPARES = choice_key(
    "spoilage",
    "spares",
    "spares as many as are lost on average (lean), that cost least, or that fill the run with the certainty asked for "
    "(safe)",
    SPARES_RULES,
    "least cost",
)
KEYS: tuple[Key, ...] = (
    Key("", "schema", "whole", "version of this file's layout", least=1, most=1, must=True),
    Key("", "title", "text", "name of the drop, on every sheet", must=True),
    INK_KIND,
    Key("", "scale_step_g", "number", "step of the scale", "g", 0.001, 10, 0.1),
    Key(
        "",
        "edge_growth_um",
        "number",
        "how far a printed edge grows [as `sepkit wedge` found for the press]",
        "µm",
        0,
        300,
        0.0,
    ),
    Key(
        "",
        "ink_factor",
        "number",
        "weighed ink over the computed ink [as `sepkit wedge` found, else 1]",
        "",
        0.2,
        5,
        1.0,
    ),
    Key("press", "name", "text", "a press of the shelf", default="two-head"),
    *(replace(key, must=False) for key in PRESS_SETTINGS),
    Key("", "screens_apart", "yes/no", "films of its own for each cloth, instead of shared ones", default=False),
    Key("press", "reach_mm", "length", "farthest from the clamp at which a print lands on the platen", "mm", 100, 3000),
    Key("heat_press", "plate_width_mm", "length", "plate width", "mm", 50, 1500, 380.0),
    Key("heat_press", "plate_height_mm", "length", "plate height", "mm", 50, 1500, 380.0),
    Key(
        "heat_press",
        "set_c",
        "number",
        "what the heat press is set to; the ink's data sheet decides",
        "°C",
        80,
        230,
        165.0,
    ),
    Key("heat_press", "seconds", "number", "length of one press", "s", 2, 600, 40.0),
    Key("film", "sheet_width_mm", "length", "width of the film sheet or roll", "mm", 100, 2000, 329.0),
    Key("film", "sheet_height_mm", "length", "height of the sheet; 0 for a roll", "mm", 0, 5000, 483.0),
    Key("film", "margin_mm", "length", "margin that the printer leaves white", "mm", 0, 50, 6.0),
    Key("film", "dpi", "number", "resolution of the film printer", "dpi", 150, 2880, 720.0),
    Key("film", "overlap_mm", "length", "overlap of two tiles of one film", "mm", 5, 40, 12.0),
    Key("spoilage", "loss", "number", "share of garments lost at each placement", "(0.02 is 2 %)", 0, 0.5),
    Key("spoilage", "certainty", "number", "chance that a safe run is filled", "(0.95 is 95 %)", 0.5, 0.999, 0.95),
    Key("spoilage", "loss_by_placement", "shares", "loss of single placements", "(0.05 is 5 %)", 0, 0.5),
    Key(
        "spoilage",
        "test_garments",
        "whole",
        "garments given up for first pulls; one tests all its prints",
        "",
        0,
        50,
        1,
    ),
    Key("spoilage", "wash_tests", "whole", "garments for wash tests beside those", "", 0, 20, 0),
    SPARES,
    Key(
        "spoilage",
        "late_order",
        "number",
        "blanks can be bought late: postage and the evening at the press [none can]",
        "",
        0,
        10000,
    ),
    Key("spoilage", "kept", "number", "share of its price that a blank left over is worth", "(0.5 is half)", 0, 1, 0.5),
    Key(
        "spoilage",
        "most_spares",
        "number",
        "spares of least cost stay within this share of the orders",
        "(0.2 is 20 %)",
        0,
        2,
        0.2,
    ),
    Key("money", "currency", "text", "currency", default="EUR"),
    Key("money", "hour", "number", "what an hour of your work costs", "", 0, 1000, 0.0),
    Key("money", "ink_kg", "number", "price of ink", "per kg", 0, 1000, 0.0),
    Key("money", "film_m2", "number", "price of film", "per m²", 0, 1000, 0.0),
    Key("money", "screen", "number", "emulsion, tape and cleaning of one screen", "", 0, 1000, 0.0),
    Key("money", "piece", "number", "paper, adhesive, energy, packing of one garment", "", 0, 1000, 0.0),
    Key("money", "price", "number", "what one garment sells for", "", 0, 10000, 0.0),
    Key("money", "platen", "number", "what one more platen costs", "", 0, 10000, 60.0),
    Key("print", "name", "text", "name of the print, unique", must=True),
    Key("print", "art", "path", "artwork, in the folder of this file or below; sample:NAME is sample art", must=True),
    Key("print", "placement", "name", "where it goes", must=True),
    Key("print", "garments", "texts", "garments that carry it [all]"),
    Key("print", "sizes", "texts", "only these sizes carry it, as a neck label of one size [all]"),
    Key("print", "one_ink_on", "inks by garment", "the one ink by garment: white on black, black on white"),
    WAY,
    *PRINT_KEYS,
    Key("garment", "name", "text", "a garment of the shelf, or #rrggbb", must=True),
    Key("garment", "sizes", "sizes", "pieces ordered: { S = 4, M = 10 }", "pieces", 0, 100_000),
    Key("garment", "orders", "path", "CSV with the columns size and pieces, instead of sizes"),
    Key("garment", "total", "whole", "checks that the sizes add up to this", "pieces", 0, 1_000_000),
    Key(
        "garment",
        "expected",
        "whole",
        "pieces expected in all; what sizes do not hold yet is shared out by curve",
        "pieces",
        1,
        1_000_000,
    ),
    Key("garment", "curve", "name", "size curve for expected", default="common"),
    Key("garment", "children", "yes/no", "children's wear", default=False),
    OPENING,
    Key("garment", "price", "number", "what one blank costs", "", 0, 10000, 0.0),
    Key("screen", "name", "text", "name of the frame, unique", must=True),
    Key("screen", "inside_width_mm", "length", "inside width", "mm", 100, 2000, must=True),
    Key("screen", "inside_height_mm", "length", "inside height, clamp end to free end", "mm", 100, 3000, must=True),
    Key("screen", "mesh", "text", "its mesh, as 43-80, 43/cm or 110 tpi", must=True),
    Key("screen", "count", "whole", "how many you own", "", 1, 500, 1),
    Key("blade", "width_mm", "length", "blade width", "mm", 30, 1500, must=True),
    Key("blade", "shore_a", "whole", "hardness", "Shore A", 40, 95, 70),
    Key("blade", "count", "whole", "how many you own", "", 1, 100, 1),
    Key("leftover", "ink", "text", "ink in the cup", must=True),
    Key("leftover", "mass_g", "number", "how much is left", "g", 0, 100_000, must=True),
)


def explained(choices: dict[tuple[str, str], tuple[str, ...]]) -> list[str]:
    """Return --explain: every key with what it takes. ``choices`` adds the names of (table, key) lists."""
    lines: list[str] = []
    for table in TABLES:
        head = "top level" if not table else f"[[{table}]]" if table in LISTS else f"[{table}]"
        lines += ["", head] if lines else [head]
        for key in keys_of(KEYS, table).values():
            names = key.names or choices.get((table, key.name), ())
            takes = ", ".join(names) if names else allowed(key)
            need = "must be given" if key.must else f"default {key.default}" if key.default is not None else "optional"
            lines.append(f"  {key.name:<18} {key.text}")
            lines.append(f"  {'':<18} {takes}; {need}")
    return lines
