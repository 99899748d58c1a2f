"""Joins the rooms for whole jobs: plan a print, write its folder, check artwork. Progress goes to a Progress.

Doors: ``print``, ``drop``, ``gang``, ``inks``, ``wedge``.
"""

from __future__ import annotations
