"""What the print will look like on the garment.

Doors: ``stack.printed_rgb``, ``garment.draw_garment``, ``compare.compare_sheet``, ``stress.stress``.
"""

from __future__ import annotations
