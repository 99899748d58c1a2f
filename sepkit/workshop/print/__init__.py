"""One print, from art to print folder."""

from __future__ import annotations
