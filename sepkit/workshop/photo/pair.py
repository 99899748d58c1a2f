"""Two prints of one folder in one photograph: the one that is tested, and an approved one beside it.

In: a Subject, a Photo, and at which side the approved print lies. Out: both places. The second is looked for where the
first is covered up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError
from sepkit.reading.find import Search, Side, find
from sepkit.reading.gates import check_place
from sepkit.reading.picture import Photo
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.reading.find import Place
    from sepkit.reading.subject import Subject

SEARCH = Search(side_px=128, sizes=14)
"""Two prints share the frame: each is small in it."""
WHAT = "two prints of this folder"
AROUND_MM = 1.0
"""So much around the first print is covered as well."""
WAYS: dict[Side, tuple[int, int]] = {"up": (0, -1), "right": (1, 0), "down": (0, 1), "left": (-1, 0)}


def two_places(subject: Subject, photo: Photo, approved: Side, *, top: Side | None, where: str) -> tuple[Place, Place]:
    """Return the places of the tested print and of the approved one, which lies at that side of it.

    Raises PhotoError where the photograph does not show both.
    """
    ambiguous = top is None
    first = check_place(find(subject, photo, top=top, search=SEARCH), where=where, what=WHAT, ambiguous=False)
    rest = Photo(covered_up(photo.rgb, subject, first))
    second = check_place(find(subject, rest, top=top, search=SEARCH), where=where, what=WHAT, ambiguous=ambiguous)
    middles = [applied(place.homography, subject.middle) for place in (first, second)]
    across = (middles[1] - middles[0]) @ np.array(WAYS[approved])
    if abs(across) < 0.5 * float(np.hypot(*(middles[1] - middles[0]))):
        text = f"the two prints do not lie so that one is {approved} of the other"
        raise PhotoError(text, where=where, hint="say at which side the approved print lies, as --approved left")
    return (first, second) if across > 0 else (second, first)


def covered_up(rgb: U8, subject: Subject, place: Place) -> U8:
    """Return a photograph with a print covered by the colour of the cloth around it."""
    from PIL import Image, ImageDraw

    w, h, m = subject.width_mm, subject.height_mm, AROUND_MM + subject.margin_mm
    box = np.array([[-m, -m], [w + m, -m], [w + m, h + m], [-m, h + m]])
    corners = applied(place.homography, box)
    rim = np.concatenate([np.linspace(a, b, 40) for a, b in zip(box, np.roll(box, -1, axis=0), strict=True)])
    at = np.clip(np.rint(applied(place.homography, rim)).astype(int), 0, np.array(rgb.shape[1::-1]) - 1)
    colour = np.median(rgb[at[:, 1], at[:, 0]], axis=0)
    image = Image.fromarray(rgb.copy())
    ImageDraw.Draw(image).polygon([tuple(map(float, xy)) for xy in corners], fill=tuple(int(v) for v in colour))
    return np.asarray(image)
