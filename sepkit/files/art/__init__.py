"""Artwork files of any kind to pixels, safely.

Doors: ``artwork.read_artwork``.
"""

from __future__ import annotations
