"""A whole drop from one job file."""

from __future__ import annotations
