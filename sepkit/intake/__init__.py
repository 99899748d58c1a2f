"""Art as people bring it, made ready to separate: what kind it is, drawings on paper, art for one ink, scans of print.

Doors: ``kinds.kind_of``, ``paper.drawing_on_paper``, ``figure.one_ink``, ``proposal.proposed_ink``, ``dots.find_dots``,
``descreen.averaged``, ``descreen.kept``.
"""

from __future__ import annotations
