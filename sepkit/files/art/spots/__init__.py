"""Named inks of a PDF page, each drawn as the plate it is: runs in the drawing process, within its bounds.

Doors: ``page.SpotPage`` (which inks a page paints with, and a page that shows one of them in greys).
"""

from __future__ import annotations
