"""Colour as made: ink films on cloth, mixing, opacity. The one place that predicts printed colour.

Doors: ``layers.printed_reflectance`` (films on cloth), ``match.match`` and ``mixing.mix`` (recipes), ``identify`` and
``drawdown`` (from what a printer measures to K and S).
"""

from __future__ import annotations
