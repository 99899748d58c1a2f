"""Artwork to ink areas: which inks, who shares a mixed pixel, where tones are."""

from __future__ import annotations
