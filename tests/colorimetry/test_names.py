"""Plain words for colours: a table of what people call W3C keywords, cloth and inks; pale and muddy colours too."""

from __future__ import annotations

import pytest

from sepkit.colorimetry.names import colour_word, distinct_words
from sepkit.units import parse_hex

TABLE = {
    # whites, greys and blacks, of cloth too
    "#ffffff": "white",
    "#f4f4f2": "white",
    "#fbfdf3": "white",
    "#f6faf4": "white",
    "#fafaff": "white",
    "#fff9f8": "white",
    "#ece3cf": "cream",
    "#fdf6e3": "cream",
    "#f5f5dc": "cream",
    "#c9cbcc": "light grey",
    "#808080": "grey",
    "#a5a7a9": "grey",
    "#3e3f42": "dark grey",
    "#1a1a1c": "black",
    "#0c1018": "black",
    # reds to yellows
    "#c81e1e": "red",
    "#dc143c": "red",
    "#ff0000": "red",
    "#8b0000": "dark red",
    "#55202c": "dark red",
    "#ffc0cb": "pink",
    "#ff69b4": "pink",
    "#ffe4e1": "light pink",
    "#fa8072": "salmon",
    "#ff8c00": "orange",
    "#f0ae2d": "gold",
    "#ffd700": "yellow",
    "#ffff00": "yellow",
    "#d2b48c": "sand",
    "#8b4513": "brown",
    "#4a2c17": "dark brown",
    "#808000": "olive",
    # greens to violets
    "#9acd32": "lime",
    "#008000": "green",
    "#1f3d2b": "dark green",
    "#90ee90": "light green",
    "#40e0d0": "turquoise",
    "#008080": "teal",
    "#87ceeb": "sky blue",
    "#a9c8e0": "light blue",
    "#0000ff": "blue",
    "#22458f": "blue",
    "#1e2438": "navy",
    "#000080": "navy",
    "#708090": "slate",
    "#6a3fb0": "violet",
    "#800080": "purple",
    "#c8a2c8": "lilac",
    "#ff00ff": "magenta",
    # mauves are no reds
    "#8a6a7c": "mauve",
    "#a07a90": "mauve",
    "#b08c9c": "mauve",
    "#9a7488": "mauve",
}


@pytest.mark.parametrize(("code", "word"), TABLE.items())
def test_a_colour_is_called_what_people_call_it(code, word):
    assert colour_word(parse_hex(code)) == word


@pytest.mark.parametrize("tint", range(236, 256))
def test_near_whites_have_no_hue_word(tint):
    for rgb in ((tint, 255, tint), (255, 255, tint), (tint, tint, 255), (255, tint, tint)):
        if tint >= 246:
            assert colour_word(rgb) in ("white", "cream")
        assert colour_word(rgb) not in ("lime", "red", "green", "blue", "yellow", "pink")


def test_a_word_that_comes_again_is_numbered():
    assert distinct_words([(255, 255, 255), (250, 250, 250), (200, 30, 30)]) == ["white", "deeper white", "red"]
