"""Mesh, screens, quantities and order at the press.

Doors: ``advice``, ``fit.fit_findings``, ``quantities``, ``sequence.press_order``; ``gang`` for screens.
"""

from __future__ import annotations
