"""The ink card read from a photograph: the light of each place, its uneven light divided out.

In: a Photo. Out: CardReading: linear light of bare paper, of the black field and of every draw-down, in the
photograph's own terms, with the spread within each; and the light beyond the card, for a chart beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError
from sepkit.film.ink_card import CARD_MM, card_places, drawn_over_mm
from sepkit.reading.find import Search, find
from sepkit.reading.gates import Gates, check_place, check_size
from sepkit.reading.light import Look, look_of
from sepkit.reading.subject import PX_PER_MM, Patch, Subject
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.film.ink_card import CardPlace
    from sepkit.model import F64, U8, Bool
    from sepkit.reading.picture import Photo

PAPER_BLACK = np.array([[0.8] * 3, [0.035] * 3])
"""Linear light of office paper and toner (typical, from memory), until the photograph tells."""
GATES = Gates(px_per_mm=3.0)
"""Patches need fewer pixels than edges do."""
SEARCH = Search(side_px=160, sizes=13)
"""A chart beside it makes the card a smaller part of the photograph, and its lines are thin."""
LOOK_PX_PER_MM = 2.0
READ_PX_PER_MM = 4.0
BARE = 0.04
"""A place whose light differs by less than this share from bare paper was left empty."""
UNEVEN = 0.12
"""Relative spread of light within a draw-down beyond which it is not one coat, or glares."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadPlace:
    """A place as read: linear light (3,), and its relative spread within the place."""

    place: CardPlace
    linear: F64
    spread: float


@dataclass(frozen=True, slots=True, eq=False)
class CardReading:
    """A card in a photograph; ``homography`` maps its mm to photo pixels."""

    places: tuple[ReadPlace, ...]
    """Draw-downs that are there; those left empty are left out."""
    paper: F64
    black: F64
    homography: F64
    look: Look
    px_per_mm: float


def card_subject(black: U8) -> Subject:
    """Return what a photograph of the card should show; ``black`` is its (h, w) coverage at PX_PER_MM."""
    tone: Bool = np.zeros(black.shape, bool)
    for x, y, w, h in drawn_over_mm():
        rows, columns = (
            slice(max(0, int((v - 1) * PX_PER_MM)), int((v + s + 1) * PX_PER_MM)) for v, s in ((y, h), (x, w))
        )
        tone[rows, columns] = True
    return Subject(*CARD_MM, 0.0, (black,), PAPER_BLACK, ("card",), tone=tone, open=tone)


def read_card(subject: Subject, photo: Photo, *, where: str) -> CardReading:
    """Return what a photograph of the card shows. Raises PhotoError (exit 10)."""
    place = check_place(find(subject, photo, search=SEARCH), where=where, what="the ink card", ambiguous=False)
    check_size(subject, photo, place, where=where, gates=GATES)
    grid = subject.whole(LOOK_PX_PER_MM)
    seen = photo.sample(applied(place.homography, _points(grid)), _scale(place.homography) / LOOK_PX_PER_MM)
    look = look_of(subject, grid, subject.coarse(LOOK_PX_PER_MM), seen)
    if look.range_of_light(subject) > GATES.light or float(np.nanmax(look.spread)) > GATES.spread:
        hint = "no flash; a window or two lamps from the side, matt paper"
        raise PhotoError("light glares on the card, or a hard shadow lies on it", where=where, hint=hint)
    read = [_read(subject, photo, look, place.homography, one) for one in card_places()]
    fields = {one.place.name: one.linear for one in read}
    paper, black = fields["white card"], fields["black card"]
    drawn = [one for one in read if one.place.name not in ("black card", "white card") and not _bare(one, paper, black)]
    for one in drawn:
        if one.spread > UNEVEN:
            hint = "draw it down evenly, and photograph it without a shine"
            raise PhotoError(f"the draw-down {_words(one.place)} is not even", where=where, hint=hint)
    return CardReading(tuple(drawn), paper, black, place.homography, look, _scale(place.homography))


def _words(place: CardPlace) -> str:
    return f"of {place.percent:g} % in white" if place.name == "tint" else f'"{place.name}"'


def _bare(one: ReadPlace, paper: F64, black: F64) -> bool:
    ground = black if one.place.name == "over black" else paper
    return bool(np.abs(one.linear - ground).max() < BARE * float(paper.max()))


def _read(subject: Subject, photo: Photo, look: Look, homography: F64, place: CardPlace) -> ReadPlace:
    r = READ_PX_PER_MM
    patch = Patch(place.x_mm, place.y_mm, round(place.width_mm * r), round(place.height_mm * r), r)
    seen = photo.sample(applied(homography, _points(patch)), _scale(homography) / r)
    lit = (seen / look.light_over(subject, patch)).reshape(-1, 3).astype(np.float64)
    middle = np.median(lit, axis=0)
    grey = lit.mean(axis=1)
    spread = float(np.median(np.abs(grey - np.median(grey))) * 1.48 / max(float(np.median(grey)), 0.02))
    return ReadPlace(place, middle, spread)


def _points(patch: Patch) -> F64:
    return np.stack(np.meshgrid(patch.xs, patch.ys), -1)


def _scale(homography: F64) -> float:
    middle = np.array(CARD_MM) / 2
    across, down = (applied(homography, middle + step) - applied(homography, middle - step) for step in np.eye(2) / 2)
    return float(np.sqrt(abs(across[0] * down[1] - across[1] * down[0])))
