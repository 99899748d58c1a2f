"""Several prints on as few screens as they need."""

from __future__ import annotations
