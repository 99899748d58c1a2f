"""The ink commands."""

from __future__ import annotations
