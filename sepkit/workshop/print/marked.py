"""The marked picture of a check on disk: art is checked again and again, so a check replaces what a check has made.

In: options as for a print, a path or none. Out: what the check found, and the PNG where there is one.
"""

from __future__ import annotations

import warnings
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.workshop.print.check import CheckedArt, check_art

if TYPE_CHECKING:
    from sepkit.model import U8, Progress
    from sepkit.workshop.print.options import PrintOptions

MADE_BY = "sepkit check"
"""What a marked picture says of itself."""


@dataclass(frozen=True, slots=True, eq=False)
class MarkedCheck:
    """What the check found, and the picture that was written; None where nothing was marked and none was asked for."""

    checked: CheckedArt
    picture: Path | None


def check_and_mark(
    options: PrintOptions, *, out: Path | None, force: bool, progress: Progress | None = None
) -> MarkedCheck:
    """Check art and write the marked picture: to ``out``, else to ART-check.png here when something is marked.

    Raises as ``check_art`` does, and WriteError when the picture must not or cannot be written.
    """
    from sepkit.files.folders.write import replace_file

    with ExitStack() as held:
        part = None if out is None else held.enter_context(replace_file(out, force=force))  # a taken name tells at once
        checked = check_art(options, progress=progress)
        path = out or (Path(f"{options.art.stem}-check.png") if checked.marks else None)
        if path is not None:
            _save(checked.marked, part or held.enter_context(replace_file(path, force=force or _is_ours(path))))
    return MarkedCheck(checked, path)


def _save(marked: U8, part: Path) -> None:
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    made_by = PngInfo()
    made_by.add_text("Software", MADE_BY)
    Image.fromarray(marked).save(part, format="PNG", pnginfo=made_by)


def _is_ours(path: Path) -> bool:
    """Tell whether ``path`` is a marked picture of an earlier check."""
    from PIL import Image

    try:
        with warnings.catch_warnings(action="ignore"), Image.open(path) as picture:
            return picture.info.get("Software") == MADE_BY
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False
