"""Every error sepkit raises on purpose: what is wrong, where, what to do, and the exit code of the command.

    SepkitError                70   our own bug, when raised bare
      UsageError                2   an option that makes no sense
      DataFileError             3   a job file, a recipe file of the shelf, a list of orders or readings
      ArtworkError              4   the artwork
      NotFoundError             5   an ink, garment, mesh or press that the shelf does not hold
      OutOfReachError           6   a colour that no recipe reaches
      WriteError                7   the output cannot be written
      ChecksFailedError         8   `sepkit check` found errors
      MissingPartError          9   an optional part is not installed
      PhotoError               10   a photograph that cannot be used

The text is one line: "where: what is wrong (what to do)". A DataFileError has such a line for each problem of its file.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

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


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: what, what to do, of which key, in which line (from 1; 0 is the file as a whole).

    What was ``told`` beside the file stands in no line of it.
    """

    text: str
    hint: str = ""
    key: str = ""
    line: int = 0
    told: str = ""


class DataFileError(SepkitError):
    """A file of data (TOML or CSV) that cannot be used as it is, with all that is wrong with it, by line.

    As a text it is the first problem and how many more there are; ``lines`` tells each.
    """

    exit_code = 3

    def __init__(self, first: Problem, *more: Problem, where: str) -> None:
        self.file = where
        self.problems = tuple(sorted((first, *more), key=lambda problem: problem.line))
        told = self._told(self.problems[0])
        others = f"; and {len(more)} more problem{'s' if len(more) > 1 else ''}" if more else ""
        super().__init__(told.text + others, where=told.where, hint=told.hint)

    def lines(self) -> tuple[str, ...]:
        """Return one line for each problem: ``drop.toml:12: print.width_mm: is 5000 (give 5 to 1000 mm)``."""
        return tuple(str(self._told(problem)) for problem in self.problems)

    def __reduce__(self) -> tuple[partial[DataFileError], tuple[Problem, ...]]:
        # What a worker process raises travels back as a pickle.
        return partial(DataFileError, where=self.file), self.problems

    def _told(self, problem: Problem) -> SepkitError:
        text = f"{problem.key}: {problem.text}" if problem.key else problem.text
        where = problem.told or (f"{self.file}:{problem.line}" if problem.line else self.file)
        return SepkitError(text, where=where, hint=problem.hint)


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


class PhotoError(SepkitError):
    """A photograph that cannot be read, or not be used for what was asked."""

    exit_code = 10


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
