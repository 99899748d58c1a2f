"""Films and spot-colour proofs as files: PDF, TIFF, PNG.

Doors: ``film_set.write_film_set``, ``spot_pdf.write_spot_pdf``.
"""

from __future__ import annotations
