"""What a photograph is refused for: too small, another print, two ways round, cut off, glare, blur, cloth not flat.

In: a place, a fit. Out: nothing, or PhotoError with what to do better. The limits stand in one table with what they
part; they were chosen on simulated photographs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.reading.find import Place
    from sepkit.reading.picture import Photo
    from sepkit.reading.screens import Fit
    from sepkit.reading.subject import Subject


@dataclass(frozen=True, slots=True)
class Gates:
    """Limits, each with what it parts."""

    score: float = 0.5
    """Sound photographs of the print: 0.59 and above; of another print, 0.41 and below."""
    runner_up: float = 0.97
    """Art that looks the same turned: 0.97 of the best and above; other art, 0.9 and below."""
    px_per_mm: float = 5.5
    """Spots of 0.5 mm show from 8 on; below this, lines and spots run into the cloth's weave."""
    edge_px: float = 2.0
    """The art's corners must lie this far inside the photograph."""
    tilt: float = 1.7
    """Largest over smallest scale between corners: sound ones up to 1.65 on prints of 300 mm; large prints only."""
    foreshortened: float = 1.18
    """A mm across the picture over one along its depth, at the print's middle: one over the cosine of 32 degrees. Sound
    ones, stretched and folded cloth included, up to 1.15; from 39 degrees aside 1.26 and above, at any size."""
    light: float = 4.0
    """Brightest light over darkest: even light up to 2.1, glare 200."""
    spread: float = 0.15
    """Relative spread of lightness within an ink: up to 0.14, glare 0.58."""
    blur_px2: float = 0.6
    """Blur beyond a sharp photograph's, half its variance, of the sharpest quarter of the tiles: up to 0.2 in sound
    ones."""
    misfit: float = 0.55
    """Share of tiles that the fit does not explain: sound photographs up to 0.3."""
    strayed: float = 0.25
    """Share of tiles whose edges lie elsewhere than fitted: up to 0.07 where the lay is good to 0.15 mm, 0.33 where a
    blurred one was 0.3 mm off, 0.6 and above half a mm beside."""


GATES = Gates()


def check_place(place: Place | None, *, where: str, what: str, ambiguous: bool = True, gates: Gates = GATES) -> Place:
    """Return the place. Raises PhotoError for another print, or, where that matters, one that looks the same turned."""
    if place is None or place.score < gates.score:
        raise PhotoError(
            f"does not show {what}",
            where=where,
            hint=f"photograph the whole of {what} from straight above, flat, with 2 cm of cloth around it",
        )
    if ambiguous and place.runner_up > gates.runner_up * place.score:
        raise PhotoError(
            f"{what} looks the same two ways round",
            where=where,
            hint="say which side of the photograph its top is at, as --top up",
        )
    return place


def check_size(subject: Subject, photo: Photo, place: Place, *, where: str, gates: Gates = GATES) -> None:
    """Raise PhotoError for a print cut off, too small in the photograph, or seen from aside."""
    corners = applied(place.homography, subject.corners)
    low, high = corners.min(axis=0), corners.max(axis=0)
    if (low < gates.edge_px).any() or (high > np.array(photo.size) - 1 - gates.edge_px).any():
        hint = "step back: the whole print with 2 cm of cloth around it"
        raise PhotoError("the print is cut off", where=where, hint=hint)
    scales = [_scale(place.homography, corner) for corner in subject.corners]
    if max(scales) / min(scales) > gates.tilt or _foreshortened(place.homography, subject.middle) > gates.foreshortened:
        raise PhotoError(
            "the photograph was taken from aside",
            where=where,
            hint="hold the camera parallel to the print, straight above its middle",
        )
    seen = float(np.median(scales))
    if seen < gates.px_per_mm:
        raise PhotoError(
            f"{seen:.1f} pixels show each mm, 8 are needed",
            where=where,
            hint="go nearer, or send the photograph in full size",
        )


def check_fit(subject: Subject, fit: Fit, *, where: str, gates: Gates = GATES) -> None:
    """Raise PhotoError for glare, blur, cloth that is not flat, or a print that is laid beside its place."""
    look = fit.state.look
    seen = look.spread[np.isfinite(look.spread) & (look.colours.mean(axis=1) > 0.05)]
    if look.range_of_light(subject) > gates.light or (len(seen) and float(seen.max()) > gates.spread):
        raise PhotoError(
            "light glares on the print, or hard shadows or folds lie on it",
            where=where,
            hint="no flash; a window or two lamps from the side; smooth the cloth",
        )
    if fit.blur_px2 > gates.blur_px2:
        raise PhotoError("is out of focus or shaken", where=where, hint="tap the print to focus, and hold still")
    if fit.misfit > gates.misfit:
        raise PhotoError(
            f"the cloth does not lie flat ({fit.misfit:.0%} of the print cannot be judged)",
            where=where,
            hint="smooth the garment on the platen or a table, without folds",
        )
    if not np.isfinite(fit.strayed):
        raise PhotoError(
            "shows no edge that tells where the print lies",
            where=where,
            hint="more light; films with check discs (--check-discs) show edges on any art",
        )
    if fit.strayed > gates.strayed:
        raise PhotoError(
            f"cannot be laid on the films ({fit.strayed:.0%} of its edges lie elsewhere)",
            where=where,
            hint="flat, sharp, in even light, from straight above, check discs in the picture",
        )


def _scale(homography: F64, point: F64) -> float:
    return float(np.sqrt(abs(np.linalg.det(_steps(homography, point)))))


def _foreshortened(homography: F64, point: F64) -> float:
    long, short = np.linalg.svd(_steps(homography, point), compute_uv=False)
    return float(long / max(short, 1e-9))


def _steps(homography: F64, point: F64) -> F64:
    """Return what a mm right and a mm down at a point are in pixels, (2, 2)."""
    steps = 0.5 * np.eye(2)
    return np.asarray(applied(homography, point + steps) - applied(homography, point - steps))
