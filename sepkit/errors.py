"""Every error sepkit raises on purpose: what is wrong, where, what to do, and the exit code of the command.

    SepkitError                70   our own bug, when raised bare
      UsageError                2   an option that makes no sense
      JobFileError              3   the job file
      ArtworkError              4   the artwork
      NotFoundError             5   an ink, garment, mesh or press that the shelf does not hold
      OutOfReachError           6   a colour that no recipe reaches
      WriteError                7   the output cannot be written
      ChecksFailedError         8   `sepkit check` found errors
      MissingPartError          9   an optional part is not installed

The text is one line: "where: what is wrong (what to do)".
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

MOST = 900
"""Characters of an error's line; what is longer is cut in its middle."""


class SepkitError(Exception):
    """Base of all; carries where it happened and what to try."""

    exit_code = 70

    def __init__(self, text: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(text)
        self.text = text
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        head = f"{self.where}: " if self.where else ""
        tail = f" ({self.hint})" if self.hint else ""
        line = " ".join(f"{head}{self.text}{tail}".split())
        if len(line) > MOST:  # words of a file may be as long as the file
            line = f"{line[: MOST * 2 // 3]}...{line[-MOST // 3 + 3 :]}"
        # Names of files and words in them may hold what a terminal would obey.
        return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in line)


class UsageError(SepkitError):
    """An option or argument that makes no sense."""

    exit_code = 2


class JobFileError(SepkitError):
    """A job file that cannot be used as it is."""

    exit_code = 3


class ArtworkError(SepkitError):
    """Artwork that cannot be read, or holds nothing to print."""

    exit_code = 4


class NotFoundError(SepkitError):
    """A name that the shelf does not hold."""

    exit_code = 5


class OutOfReachError(SepkitError):
    """A colour that the inks cannot reach."""

    exit_code = 6


class WriteError(SepkitError):
    """An output that cannot be written."""

    exit_code = 7


class ChecksFailedError(SepkitError):
    """The artwork was read, and the checks found errors in it."""

    exit_code = 8


class MissingPartError(SepkitError):
    """An optional part that is not installed."""

    exit_code = 9


def near_names(name: str, known: Iterable[str], *, most: int = 3) -> str:
    """Return a hint that lists known names close to ``name``, or the first few when none is close.

    >>> near_names("blak tee", ["black tee", "white tee", "hoodie"], most=1)
    'did you mean "black tee"?'
    """
    names = list(known)
    lowered = {n.lower(): n for n in names}
    close = difflib.get_close_matches(name.lower(), list(lowered), n=most, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(f'"{lowered[c]}"' for c in close) + "?"
    shown = ", ".join(f'"{n}"' for n in names[:12])
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f"known: {shown}{more}" if names else "the shelf is empty"
