"""The print folder: written whole or not at all, and read back."""

from __future__ import annotations
