"""Colour as made: ink films on cloth, mixing, opacity. The one place that predicts printed colour."""

from __future__ import annotations
