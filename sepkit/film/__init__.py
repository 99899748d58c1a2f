"""Coverage to 1-bit film rows at film resolution, in bands.

Doors: ``rows.plan_film`` (rows of one film), ``marks.film_page`` (a page with its margins), ``making.FilmMaking``.
"""

from __future__ import annotations
