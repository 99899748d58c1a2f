"""What the print will look like on the garment."""

from __future__ import annotations
