"""What kind of art came in, told before anything is separated. Pure: arrays and frozen types in and out.

Doors: ``dots.find_dots``, ``descreen.averaged``, ``descreen.kept``.
"""

from __future__ import annotations
