"""Artwork to plates: which inks, who shares a mixed pixel, where the base, the traps and the tones go."""

from __future__ import annotations
