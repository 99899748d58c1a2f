"""Words of a file as they may be shown on one line: short, and nothing in them that a terminal would obey.

In: text from anywhere. Out: text of at most ``most`` characters; control, bidirectional and unassigned characters and
line breaks stand as their number (Unicode: all that Python does not call printable).
"""

from __future__ import annotations

MOST = 60


def shown(text: object, *, most: int = MOST) -> str:
    r"""Return ``text`` safe to show, cut in its middle where it is long.

    >>> shown(chr(7) + "x" * 100, most=9)
    '\\x07xxx...xx'
    """
    plain = str(text)
    if len(plain) > most:
        keep = most - 3
        plain = f"{plain[: keep - keep // 3]}...{plain[len(plain) - keep // 3 :]}"
    if plain.isprintable():
        return plain
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in plain)
