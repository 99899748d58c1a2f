"""Bases of plain planes, for the tests of their geometry."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sepkit.plates.base import Base, BaseArea, build_base

Planes = Sequence[np.ndarray]


def based(
    needing: Planes,
    *,
    own_colour: Planes = (),
    tones: Sequence[np.ndarray | None] = (),
    fine_choke: Sequence[float] = (),
    **given: object,
) -> Base:
    """Return the base under planes; ``tones`` are of ``needing`` then ``own_colour``, ``fine_choke`` of ``needing``."""
    planes = [*needing, *own_colour]
    masks = [*tones, *[None] * (len(planes) - len(tones))]
    shares = [*fine_choke, *[1.0] * (len(planes) - len(fine_choke))]
    areas = [BaseArea(plane, masks[k], shares[k]) for k, plane in enumerate(planes)]
    return build_base(areas[: len(needing)], own_colour=areas[len(needing) :], **given)  # type: ignore[arg-type]


def thin_of(base: Base) -> np.ndarray:
    """Return (h, w) uint8: 255 where a stroke kept less than the full choke."""
    plane = np.zeros_like(base.coverage)
    plane.reshape(-1)[base.kept_thin] = 255
    return plane
