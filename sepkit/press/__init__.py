"""Mesh, screens, quantities and order at the press."""

from __future__ import annotations
