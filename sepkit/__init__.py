"""sepkit: colour separations, films, inks and press plans for people who screen-print garments themselves."""

from __future__ import annotations

__version__ = "0.1.0"
