"""A photograph of a print held against its films: where it lies, register, spots, edges, colours. Arrays in and out.

Doors: ``subject`` (what should be there), ``picture`` (the photograph), ``screens.fitted`` (where everything lies),
``spots``, ``edges``, ``wedge`` (what the fit then tells), ``gates`` (what a photograph is refused for).
"""

from __future__ import annotations
