"""Packing prints on screens: which fit together, and where."""

from __future__ import annotations
