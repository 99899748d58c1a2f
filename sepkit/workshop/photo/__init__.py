"""Photographs of prints, of the wedge and of draw-downs, read.

Doors: ``inspect.inspect``, ``wedge.read_photos``, ``draw_down``.
"""

from __future__ import annotations
