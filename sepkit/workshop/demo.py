"""The sample art and how each piece is printed in the demo."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError, near_names

if TYPE_CHECKING:
    from sepkit.workshop.print.options import PrintOptions

WIDTH_MM: dict[str, float | None] = {
    "regatta-badge.png": 270.0,
    "lantern-lines.svg": None,
    "harbour-flat.png": 260.0,
    "lantern-glow.png": 120.0,
    "oar-small.jpg": 140.0,
    "neck-label.svg": None,
}
"""Print width; None takes the size that the file itself carries."""


DARK_ONLY = {"lantern-lines.svg"}
"""White art has nothing to print on a white garment."""


def demo_art() -> list[str]:
    """Return the pieces of the demo."""
    return list(WIDTH_MM)


def demo_options(piece: str, garment: str) -> PrintOptions:
    """Return the options that print ``piece`` on ``garment``. Raises NotFoundError for a piece that is not there."""
    from sepkit.files.shelf.folders import sample_art_folder
    from sepkit.workshop.print.options import PrintOptions

    path = sample_art_folder() / piece
    if piece not in WIDTH_MM or not path.is_file():
        raise NotFoundError(f'no sample art "{piece}"', where="--art", hint=near_names(piece, WIDTH_MM))
    return PrintOptions(art=path, garment=garment, width_mm=WIDTH_MM[piece])
