"""The shelf: inks, garments, meshes and presses from TOML, and colours that a person writes.

Doors: ``shelf.Shelf`` (asked by name), ``colours.parse_colour`` (a colour as written), ``inkfile`` (an ink written).
"""

from __future__ import annotations
