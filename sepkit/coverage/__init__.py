"""Geometry of uint8 coverage planes: bands, spread and choke, thin strokes, sums.

Doors: ``reach`` (spread, choke, distance), ``strokes``, ``bands``, ``sums``.
"""

from __future__ import annotations
