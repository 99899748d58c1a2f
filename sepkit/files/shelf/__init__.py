"""The shelf: inks, garments, meshes and presses from TOML, and colours that a person writes."""

from __future__ import annotations
