"""Films and spot-colour proofs as files: PDF, TIFF, PNG."""

from __future__ import annotations
