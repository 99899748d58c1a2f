"""A plain word for a colour, so that plates and films can be told apart by name.

Hue words by CIE Lab hue angle, lightness words by L*; the borders are our own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab

if TYPE_CHECKING:
    from sepkit.model import RGB8

GREY_CHROMA = 9.0
_GREYS = ((15, "black"), (38, "dark grey"), (65, "grey"), (92, "light grey"), (101, "white"))
_HUES = (
    (15, "pink"), (42, "red"), (72, "orange"), (103, "yellow"), (128, "lime"), (168, "green"), (212, "turquoise"),
    (252, "sky blue"), (307, "blue"), (325, "violet"), (345, "magenta"), (361, "pink"),
)  # fmt: skip


def colour_word(rgb: RGB8) -> str:
    """Return a word such as "dark red" for 8-bit sRGB.

    >>> colour_word((255, 255, 255)), colour_word((200, 30, 30)), colour_word((20, 30, 90))
    ('white', 'red', 'dark blue')
    """
    light, a, b = (float(v) for v in srgb8_to_lab(np.array(rgb)))
    chroma = float(np.hypot(a, b))
    if chroma < GREY_CHROMA or (light < 12 and chroma < 14):
        return next(word for limit, word in _GREYS if light < limit)
    hue = float(np.degrees(np.arctan2(b, a)) % 360)
    word = next(name for limit, name in _HUES if hue < limit)
    if word in ("orange", "yellow") and light < 62 - (12 if word == "orange" else 0):
        word = "brown" if word == "orange" or light < 45 else "ochre"
    if word in ("red", "pink") and light > 68:
        return "pink" if chroma > 35 else "light pink"
    if word == "pink" and light < 50:
        word = "red"
    if word in ("orange", "yellow") and chroma < 35 and light > 78:
        return "cream"
    if light < 32:
        return f"dark {word}"
    return f"light {word}" if light > 82 and word not in ("yellow", "lime", "orange") else word


def distinct_words(colours: list[RGB8]) -> list[str]:
    """Return a word per colour, numbered where a word comes twice.

    >>> distinct_words([(255, 255, 255), (200, 30, 30), (190, 25, 30)])
    ['white', 'red', 'red 2']
    """
    seen: dict[str, int] = {}
    words = []
    for rgb in colours:
        word = colour_word(rgb)
        seen[word] = seen.get(word, 0) + 1
        words.append(word if seen[word] == 1 else f"{word} {seen[word]}")
    return words
