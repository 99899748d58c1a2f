"""Geometry of uint8 coverage planes: bands, spread and choke, thin strokes, sums; channels of pictures.

Doors: ``reach`` (spread, choke, distance), ``strokes``, ``bands``, ``channels``, ``sums``.
"""

from __future__ import annotations
