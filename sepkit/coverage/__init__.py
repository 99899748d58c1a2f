"""Geometry of uint8 coverage planes: bands, spread and choke, thin strokes, sums."""

from __future__ import annotations
