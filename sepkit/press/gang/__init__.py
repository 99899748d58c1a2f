"""Packing prints on screens: which fit together, and where.

Doors: ``plan.gang_screens``.
"""

from __future__ import annotations
