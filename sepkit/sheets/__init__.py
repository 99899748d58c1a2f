"""The sheets to hang at the press: HTML text, no disk."""

from __future__ import annotations
