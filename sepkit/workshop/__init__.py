"""Joins the rooms for whole jobs: plan a print, write its folder, check artwork. Progress goes to a Progress."""

from __future__ import annotations
