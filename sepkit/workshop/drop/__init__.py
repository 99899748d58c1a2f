"""A whole drop from one job file.

Doors: ``load.load_job``, ``make.make_job``.
"""

from __future__ import annotations
