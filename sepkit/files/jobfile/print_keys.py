"""How a print is made, once for both: each entry is a key of a job's [[print]] and an option of `sepkit separate`.

An option goes by the name of its key, without its unit: ``trap_mm`` is ``--trap``. Its field has the name of the key in
``jobs.Print`` and in the print's options. Words in brackets tell the default.
"""

from __future__ import annotations

from sepkit.decisions import TOLERANCE_DE00
from sepkit.files.toml.keys import Key, choice_key
from sepkit.model import (
    BACKGROUND_RULES,
    DOT_SHAPES,
    DOTS_RULES,
    EDGE_RULES,
    KIND_RULES,
    ONE_INK_FROM,
    SEPARATE_BY,
    SHADING_RULES,
    SOFT_RULES,
    WHITE_SCREENS,
)

BY = choice_key(
    "print",
    "by",
    "part the art by colour, by the inks that a PDF names (plate), or by the named layers of an SVG; auto: by plate "
    "where a PDF names inks",
    SEPARATE_BY,
    "auto",
)
PRINTS_FROM = choice_key(
    "print",
    "one_ink_from",
    "what that ink prints: the figure as found (auto), all that is opaque (shape), the dark or the light areas, or all "
    "tones as a halftone",
    ONE_INK_FROM,
    "auto",
)
KIND = choice_key(
    "print", "kind", "what the art is: as it looks, or solid colours, a drawing on paper, tones", KIND_RULES, "auto"
)
SHADING = choice_key(
    "print", "shading", "pencil shading of a drawing on paper: left open, or a halftone", SHADING_RULES, "open"
)
WHITE = choice_key(
    "print",
    "white_screens",
    "white seen and base: one screen hit twice, or two; auto: one where it saves a round",
    WHITE_SCREENS,
    "auto",
)
SOFT = choice_key("print", "soft", "soft transparent shadows: halftone, leave out, or print solid", SOFT_RULES, "tone")
EDGES = choice_key(
    "print",
    "edges",
    "outlines of coarse flat art (compressed, enlarged, stair-stepped): drawn again, smooth, or as drawn",
    EDGE_RULES,
    "smooth",
)
BACKGROUND = choice_key(
    "print",
    "background",
    "a colour that fills the picture to its border: print it as a box, or leave it open",
    BACKGROUND_RULES,
    "print",
)
DOTS = choice_key(
    "print",
    "dots",
    "printed dots in a scan: average them to tones, keep them one to one, or screen over them",
    DOTS_RULES,
    "average",
)
SHAPE = choice_key("print", "shape", "halftone dot", DOT_SHAPES, "ellipse")

PRINT_KEYS: tuple[Key, ...] = (
    Key("print", "width_mm", "length", "printed width", "mm", 1, 3000),
    Key("print", "height_mm", "length", "printed height, instead of width", "mm", 1, 3000),
    Key(
        "print",
        "inks",
        "inks",
        "those that are worth their screens (auto), all, a count, or a comma list of shelf inks and #rrggbb",
        default="auto",
    ),
    Key("print", "screens", "whole", "no more screens than these, the base among them [as many as pay]", "", 1, 15),
    BY,
    Key("print", "one_ink", "text", "print all in this one ink, whatever its colours: a shelf ink or #rrggbb"),
    PRINTS_FROM,
    KIND,
    SHADING,
    Key("print", "base", "texts", "white base: auto, always, never, or INK=always"),
    WHITE,
    Key("print", "highlight", "yes/no", "print seen white last, on the base, from a screen of its own", default=False),
    Key("print", "light_base", "yes/no", "thin the base to dots under inks that need less of it", default=False),
    SOFT,
    EDGES,
    BACKGROUND,
    DOTS,
    Key("print", "trap_mm", "length", "overlap of touching inks [the press's register error]", "mm", 0, 10),
    Key(
        "print",
        "overprint_mm",
        "length",
        "dark lines up to this width print over the lighter inks beside them, instead of knocking them out [off]",
        "mm",
        0,
        10,
        0.0,
    ),
    Key(
        "print",
        "overprint_colours",
        "yes/no",
        "let two transparent inks printed over each other stand for a third (flat art): saves its screen",
        default=False,
    ),
    Key("print", "choke_mm", "length", "how far the base draws in [the press's register error]", "mm", 0, 10),
    Key(
        "print",
        "tolerance_de00",
        "number",
        "colour shift that passes without a base or second coat",
        "ΔE00",
        0.1,
        20,
        TOLERANCE_DE00,
    ),
    Key("print", "mesh", "text", "one mesh for all its screens, as 62-60 or 156tpi [advised for each screen]"),
    Key("print", "lpi", "number", "halftone ruling [from the mesh]", "lines/in", 10, 150),
    Key("print", "angle_deg", "number", "halftone angle of the first tone plate", "degrees", -360, 360),
    SHAPE,
    Key(
        "print",
        "edits",
        "path",
        "changes by hand, a TOML file: another ink, coats, base, areas printed together or left open, the order",
    ),
    Key("print", "may_turn_90", "yes/no", "the garment can be loaded sideways for this print", default=False),
    Key("print", "ladder", "yes/no", "what fewer inks would cost in colour, where none are named", default=True),
    Key(
        "print", "explain", "yes/no", "tell more, and ring the places that no ink explains (explain.png)", default=False
    ),
    Key(
        "print",
        "check_discs",
        "yes/no",
        "rows of 3 mm discs beside the art on the films, by which `sepkit inspect` tells register; tape them off after "
        "the first pull",
        default=False,
    ),
)


def option_of(key: Key) -> str:
    """Return the option of a key: its name without its unit.

    >>> option_of(Key("print", "white_screens", "yes/no", "")), option_of(Key("print", "trap_mm", "length", ""))
    ('--white-screens', '--trap')
    """
    name = key.name
    for unit in ("_mm", "_deg", "_de00", "_90", "_um"):
        name = name.removesuffix(unit)
    return "--" + name.replace("_", "-")
