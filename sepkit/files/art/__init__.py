"""Artwork files of any kind to pixels, safely."""

from __future__ import annotations
