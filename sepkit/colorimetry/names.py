"""A plain word for a colour, so that plates and films can be told apart by name.

In: 8-bit sRGB. Out: the word of the nearest anchor by CIEDE2000. Anchors are colours that most people call so, many of
them values of W3C colour keywords (CSS Color Module Level 4); words are plain ones that a printer says on the phone.
Greys are told by chroma first, since hue says nothing there.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from sepkit.model import F32, RGB8

NEUTRAL_CHROMA = 5.0
"""CIE Lab chroma below which a colour is a grey: cloth and paper whites reach 3 to 4."""
DARK_L, DARK_CHROMA = 14.0, 9.0
"""As dark as this, a colour of so little chroma is black on cloth."""
PALE_L, PALE_CHROMA, CREAM_HUE_DEG = 94.0, 9.0, (50.0, 115.0)
"""As pale as this, a colour of so little chroma is white, unless its hue makes it cream."""
_GREYS = ((18, "black"), (42, "dark grey"), (72, "grey"), (91, "light grey"), (101, "white"))
_ANCHORS = {
    "white": "ffffff f6f6f2",
    "black": "000000 14141a",
    "dark grey": "45484c 44403c",
    "grey": "808080 77808a 8a8478",
    "light grey": "d3d3d3 c4c8cc cfccc4",
    "cream": "fff8e7 f5f0dc faebd7 f3e5c0",
    "sand": "d8c49c d2b48c c2ae88",
    "brown": "8b4513 a0522d 7a5230 9c6b3f 6e5a48",
    "dark brown": "4a2c17 5c3a21 3a2a20",
    "red": "ff0000 dc143c c81e1e b22222 d23c3c e8503a",
    "dark red": "8b0000 800020 5a1a22 7a2a2e",
    "brick": "a8442f b5553c",
    "pink": "ff69b4 f08ab0 ffb6c1 f4a0b0 e75480",
    "light pink": "ffe4e8 fbd5da f2dcdc",
    "salmon": "fa8072 ff9a80 e9967a f08468",
    "peach": "ffd8b8 ffcba4 ffdab9",
    "orange": "ff8c00 ffa500 f07818 ff6a13 e87722",
    "ochre": "cc8822 b8860b c08a2e a87c28",
    "gold": "f0ae2d e6b422 daa520",
    "yellow": "ffff00 ffd700 fde100 f2c434 ffe44d",
    "light yellow": "ffffa8 fff7a0 fffacd",
    "olive": "808000 6b6b2a 556b2f 7c7c46",
    "lime": "bfff00 a4d82a 9acd32 c5e05a",
    "green": "008000 00a03c 2e8b57 32cd32 00d000 4f9a4f",
    "dark green": "006400 14402a 1f3d2b 2f4f2f",
    "light green": "90ee90 a8dca0 c2ecb8",
    "sage": "9caf88 8fa58c",
    "mint": "c8f4dc b0eed0 d8f5e4",
    "turquoise": "40e0d0 20b2aa 00ced1 30b8b0",
    "teal": "008080 1b7482 0f5c66 2a6f73",
    "sky blue": "87ceeb 5cb8e6 3fa9e0",
    "light blue": "add8e6 c6e0f2 d8ecf8 a9c8e0 e0ffff",
    "blue": "0000ff 2a8fd0 1e90ff 1f4fb0 2a62c8 4169e1 22458f 3070d0",
    "dark blue": "20406b 1c3a70",
    "navy": "000080 1e2438 1a2a5a 14204a",
    "slate": "5a6e84 708090 4a5a70 2f4f4f",
    "violet": "6a3fb0 8a2be2 5b2a86 7b55c0",
    "purple": "800080 6a1b6a 8e3a8e",
    "plum": "4a1f42 5a2a50 6a3a5a",
    "lilac": "c8a2c8 dcc8ec b9a0d8 e6dcf5",
    "mauve": "a07a90 b48aa4 8a6a7c c4a0b0",
    "magenta": "ff00ff d6006e c71585 e0109a",
}


def colour_word(rgb: RGB8) -> str:
    """Return a word such as "dark red" for 8-bit sRGB.

    >>> colour_word((255, 255, 255)), colour_word((200, 30, 30)), colour_word((20, 30, 90))
    ('white', 'red', 'navy')
    """
    lab = srgb8_to_lab(np.array(rgb, np.uint8))
    return _grey_word(lab) or _nearest_word(lab)


def _grey_word(lab: F32) -> str:
    """Return the word of a colour of next to no chroma, empty when it has some."""
    light, chroma = float(lab[0]), float(np.hypot(lab[1], lab[2]))
    if chroma < NEUTRAL_CHROMA or (light < DARK_L and chroma < DARK_CHROMA):
        return next(word for limit, word in _GREYS if light < limit)
    hue = float(np.degrees(np.arctan2(lab[2], lab[1])) % 360)
    cream = CREAM_HUE_DEG[0] < hue < CREAM_HUE_DEG[1]
    return "white" if light > PALE_L and chroma < PALE_CHROMA and not cream else ""


def _nearest_word(lab: F32) -> str:
    words, anchors = _anchors()
    return words[int(np.argmin(delta_e_2000(lab, anchors)))]


@lru_cache(maxsize=1)
def _anchors() -> tuple[list[str], F32]:
    """Return the word of each anchor and their Lab, (n, 3)."""
    each = [(word, tuple(bytes.fromhex(code))) for word, codes in _ANCHORS.items() for code in codes.split()]
    return [word for word, _ in each], srgb8_to_lab(np.array([rgb for _, rgb in each], np.uint8))


def colours_called(text: str) -> str:
    """Return ``text`` with the word of each #rrggbb before it: a code alone tells nobody which ink it is.

    >>> colours_called("wash screen 2: #1b7482 out, white in")
    'wash screen 2: teal #1b7482 out, white in'
    >>> colours_called("teal #1b7482 out")
    'teal #1b7482 out'
    """

    def called(code: re.Match[str]) -> str:
        word = colour_word(parse_hex(code[0]))
        return code[0] if text[: code.start()].endswith(f"{word} ") else f"{word} {code[0]}"

    return re.sub(r"(?<![\w&])#[0-9a-fA-F]{6}\b", called, text)


def distinct_words(colours: list[RGB8]) -> list[str]:
    """Return a word per colour; where one comes again, it is told from the first by how light it is.

    A word that comes more often is told by its hue beside, warm or cool; a number is left for more than seven of one.

    >>> distinct_words([(255, 255, 255), (200, 30, 30), (180, 20, 26)])
    ['white', 'red', 'deeper red']
    """
    words: list[str] = []
    first: dict[str, float] = {}
    first_b: dict[str, float] = {}
    for rgb in colours:
        light, _, b_star = (float(v) for v in srgb8_to_lab(np.array(rgb, np.uint8)))
        word = colour_word(rgb)
        before = first.setdefault(word, light)
        told = [word, *(f"{more} {word}" for more in (_LIGHTER if light >= before else _DEEPER))]
        side = "warm" if b_star >= first_b.setdefault(word, b_star) else "cool"
        told += [f"{one.removesuffix(word)}{side} {word}" for one in told]
        numbered = (f"{told[1]} {n}" for n in range(2, len(colours) + 2))
        words.append(next(one for one in (*told, *numbered) if one not in words))
    return words


_LIGHTER, _DEEPER = ("lighter", "palest", "paler"), ("deeper", "deepest", "darker")
