"""Artwork to ink areas: which inks, who shares a mixed pixel, where tones are.

Doors: ``separate.separate``, ``background.without_background``.
"""

from __future__ import annotations
