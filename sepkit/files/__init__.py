"""All input and output: artwork, recipes, films, the print folder."""

from __future__ import annotations
