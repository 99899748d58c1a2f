"""What to tell the person about a separation: how sharp the picture is, what stays open, what is not explained."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_table, linear_to_lab, srgb8_to_lab, srgb_to_linear
from sepkit.coverage.channels import total
from sepkit.coverage.sums import above_at, total_level
from sepkit.model import Finding
from sepkit.separation import tuned_mixing as tuned

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, FlatSeparation, InkArea, InkRequest

Array = np.ndarray[Any, np.dtype[Any]]

CHUNK = 1 << 18  # pixels compared at once
STEPS = 8  # of a ΔE00, which is kept in 8 bits: 0 to 31.9


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """What the separation learned on the way, for the person."""

    pixel_mm: tuple[float, float]
    """Width and height of a pixel of the planes below."""
    edge_width_px: float
    factor: float
    """How much the picture had been enlarged; 1 when not."""
    blurred: bool
    open_share: float
    """Share of the picture that is opaque, has the garment's colour, and stays bare."""
    open_at: int | None
    """Flat index of a bare area that the rest of the art encloses, if there is one."""
    veil_share: float
    """Share of the picture that is broad half-transparent colour."""
    colours_found: int
    shape: tuple[int, int]
    left_open: int = 0
    """How many of them got no ink because the garment is nearer to them."""


def findings_of(art: Artwork, result: FlatSeparation, request: InkRequest, facts: Facts) -> tuple[Finding, ...]:
    """Return the findings of the whole separation."""
    found = [*_sharpness(art, facts), *_open_areas(facts), *_printed_background(result), *_inks(result, request, facts)]
    if facts.veil_share > tuned.ADVICE.veil_share:
        text = f"{facts.veil_share:.0%} of the picture is half-transparent: a soft shadow or glow"
        found.append(
            Finding("soft-transparency", "info", text, "--soft drop leaves it out, --soft solid prints it solid")
        )
    toned = [a for a in result.areas if a.tone is not None]
    if toned:
        names = ", ".join(_name(a) for a in toned)
        text = f"tones are halftoned in {len(toned)} of {len(result.areas)} inks"
        found.append(Finding("tones", "info", text, "flat colours stay solid", more=names))
    return (*found, *_unexplained(art, result))


def _name(area: InkArea) -> str:
    return area.name or "#{:02x}{:02x}{:02x}".format(*area.srgb)


def _sharpness(art: Artwork, facts: Facts) -> list[Finding]:
    if not facts.blurred:
        return []
    good, sharp = tuned.ADVICE.good_dpi, tuned.ADVICE.sharp_edge_px
    real = art.dpi / (facts.factor if facts.factor > 1 else facts.edge_width_px / sharp)
    if real >= good:
        return []
    edge_mm = facts.edge_width_px * 25.4 / art.dpi
    return [
        Finding(
            "soft-edges",
            "warn",
            f"edges will be soft: about {real:.0f} dpi at this size",
            f"ask for vector art or a picture {good / real:.1f}x larger",
            more=f"edges are {edge_mm:.1f} mm wide",
        )
    ]


def _open_areas(facts: Facts) -> list[Finding]:
    found = []
    if facts.open_share > tuned.ADVICE.open_share:
        text = f"{facts.open_share:.0%} of the picture has the garment's colour and is left open"
        found.append(Finding("garment-colour", "info", text, "the cloth shows there; name an ink to print it"))
    if facts.open_at is not None:
        text = "areas of the garment's colour inside the art are left open too"
        found.append(Finding("enclosed-open", "info", text, "", _place(facts.open_at, facts)))
    return found


def _printed_background(result: FlatSeparation) -> list[Finding]:
    for area in result.areas:
        plane = area.coverage
        border = np.concatenate([plane[0], plane[-1], plane[:, 0], plane[:, -1]])
        if (border == 255).mean() > tuned.ADVICE.background_share:
            text = f"{_name(area)} fills the picture to its border: it prints as a box"
            hint = "if it is only background: --background drop leaves it open"
            return [Finding("printed-background", "warn", text, hint)]
    return []


def _inks(result: FlatSeparation, request: InkRequest, facts: Facts) -> list[Finding]:
    found = [
        Finding("unused-ink", "warn", f'no part of the art is printed in "{_name(area)}"', "leave it out")
        for area in result.areas
        if not area.coverage.any()
    ]
    if request.count is not None and len(result.areas) < request.count:
        text = f"{request.count} inks are not needed: the art has {len(result.areas)} colours"
        found.append(Finding("fewer-colours", "info", text, more="besides the garment's"))
    if (request.count is not None or request.named) and facts.colours_found > len(result.areas):
        text = f"{facts.colours_found} colours of the art are printed with {len(result.areas)}"
        more = f"{facts.left_open} left open: the garment is nearer to them than any ink" if facts.left_open else ""
        found.append(Finding("merged-colours", "info", text, "ask for more inks to keep them apart", more=more))
    return found


def unexplained_places(unexplained: U8, pixel_mm: tuple[float, float]) -> list[tuple[float, float]]:
    """Return places (mm right, mm down) whose colours no mixture of the inks explains, the worst first.

    ``unexplained`` is (h, w) uint8, ΔE00 x 8. A place is a square of ``Advice.place_mm`` of which ``bad_share`` is bad.
    """
    advice = tuned.ADVICE
    step = max(1, round(advice.place_mm / pixel_mm[0]))
    down, across = unexplained.shape[0] // step, unexplained.shape[1] // step
    if not down or not across:
        return []
    rows, columns = np.divmod(badly_explained(unexplained), unexplained.shape[1])
    whole = (rows < down * step) & (columns < across * step)
    tile = rows[whole] // step * across + columns[whole] // step
    tiles = np.bincount(tile, minlength=down * across).reshape(down, across) / step**2
    order = np.argsort(-tiles.ravel(), kind="stable")[: int((tiles >= advice.bad_share).sum())]
    rows, columns = np.divmod(order, tiles.shape[1])
    return [
        ((float(x) + 0.5) * step * pixel_mm[0], (float(y) + 0.5) * step * pixel_mm[1])
        for y, x in zip(rows, columns, strict=True)
    ]


def _unexplained(art: Artwork, result: FlatSeparation) -> list[Finding]:
    """Name the worst place that no mixture of the inks explains."""
    if result.unexplained is None:
        return []
    height, width = result.unexplained.shape  # the art's own grid, also where the picture was separated on a smaller
    places = unexplained_places(result.unexplained, (art.width_mm / width, art.height_mm / height))
    if not places:
        return []
    x, y = places[0]
    side = f"{tuned.ADVICE.place_mm:.0f} mm"
    count = "one place" if len(places) == 1 else f"{len(places)} places"
    text = f"{count} in another colour{', worst' * (len(places) > 1)} at {x:.0f}, {y:.0f} mm"
    return [
        Finding(
            "unexplained",
            "warn",
            text,
            "ask for one more ink; `sepkit separate --explain` rings the places",
            places[0],
            f"places are {side} wide, from the art's top left: no mixture of the inks explains them",
        )
    ]


def _place(index: int, facts: Facts) -> tuple[float, float]:
    y, x = divmod(index, facts.shape[1])
    return (x + 0.5) * facts.pixel_mm[0], (y + 0.5) * facts.pixel_mm[1]


def badly_explained(unexplained: U8) -> Array:
    """Return the flat index, rising, of pixels that no mixture of the inks explains; as in ``difference_at``."""
    return above_at(unexplained, math.ceil(tuned.ADVICE.bad_de00 * STEPS) - 1)


def confidence_of(plane: U8, bad: Array) -> float:
    """Return 0..1, the share of a plane's ink on pixels that are not badly explained; ``bad`` are those that are."""
    total = total_level(plane)
    return 1.0 if total == 0 else 1 - float(plane.ravel()[bad].sum(dtype=np.int64)) / total


def difference_at(
    seen: U8, at: Array, *, colours: Sequence[RGB8], planes: Sequence[U8], ground: RGB8, space: str
) -> U8:
    """Return (n,) uint8: ΔE00 x 8 between the plates' colours over the garment and the picture's ``seen`` (n, 3).

    at: flat indices of mixed or tonal pixels. Solid pixels differ by the merging of near colours alone: at most
    ``Art.merge_de00``, unless the person asked for fewer inks.
    """
    linear = space == "linear"
    table = linear_table() if linear else np.arange(256, dtype=np.float32) / 255
    out = np.zeros(len(at), np.uint8)
    inks = table[np.array(colours, np.uint8).reshape(-1, 3)]
    bare = table[np.array(ground)]
    for start in range(0, len(at), CHUNK):
        some = at[start : start + CHUNK]
        share = np.zeros((len(some), len(inks)), np.float32)
        for k, plane in enumerate(planes):
            share[:, k] = plane.ravel()[some]
        share /= 255
        mixed = np.clip(share @ inks + np.clip(1 - total(share), 0, 1)[:, None] * bare, 0, 1)
        lab = linear_to_lab(mixed if linear else srgb_to_linear(mixed))
        error = delta_e_2000(lab, srgb8_to_lab(seen[start : start + CHUNK]))
        out[start : start + CHUNK] = np.clip(np.rint(error * STEPS), 0, 255)
    return out
