"""All input and output: artwork, recipes, films, the print folder.

Doors: ``art.artwork.read_artwork``, ``shelf.shelf.Shelf``, ``jobfile.jobfile.read_job``, ``folders.print_folder``.
"""

from __future__ import annotations
