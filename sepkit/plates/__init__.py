"""Ink areas to plates in print order: coats, base, traps, whites, rounds, tones as printed, mesh and dots."""

from __future__ import annotations
