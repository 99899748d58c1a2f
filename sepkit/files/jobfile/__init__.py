"""The job file: TOML in, a checked Job out.

Doors: ``jobfile.read_job``, ``keys.explained``.
"""

from __future__ import annotations
