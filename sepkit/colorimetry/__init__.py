"""Colour as seen: sRGB, XYZ, Lab, colour difference, reflectance from colour. Pure functions on arrays.

Doors: ``srgb``, ``spectral``, ``tables`` and ``difference.delta_e_2000``; ``reference`` alone loads colour-science.
"""

from __future__ import annotations
