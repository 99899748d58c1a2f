"""The job file: TOML in, a checked Job out."""

from __future__ import annotations
