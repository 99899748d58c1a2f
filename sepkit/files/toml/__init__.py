"""The one reader of TOML: each table is checked against a list of keys, every problem told at once with its line."""

from __future__ import annotations
