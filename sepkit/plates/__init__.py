"""Ink areas to plates in print order: coats, base, traps, whites, rounds, tones as printed, mesh and dots.

Doors: ``overprint_plan.decide_plates`` (areas, size, bench in, a Plan out; again for every changed wish) and
``bench.Bench``.
"""

from __future__ import annotations
