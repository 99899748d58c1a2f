"""Coverage to 1-bit film rows at film resolution, in bands."""

from __future__ import annotations
