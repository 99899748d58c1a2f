"""Art as people bring it, made ready to separate: what kind it is, drawings on paper, art for one ink.

Doors: ``kinds.kind_of``, ``paper.drawing_on_paper``, ``figure.one_ink``, ``proposal.proposed_ink``.
"""

from __future__ import annotations
