"""Several prints on as few screens as they need.

Doors: ``inputs`` (from words or a job file), ``gang.write_screens``.
"""

from __future__ import annotations
