"""The ink commands: words and JSON of what workshop/inks works out.

Doors: ``group.ink``.
"""

from __future__ import annotations
