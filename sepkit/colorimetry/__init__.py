"""Colour as seen: sRGB, XYZ, Lab, colour difference, reflectance from colour. Pure functions on arrays."""

from __future__ import annotations
