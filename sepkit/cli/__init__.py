"""The sepkit command. Modules here import click at most; the rooms load inside each command."""

from __future__ import annotations
