"""What is done with inks at the bench: each module one task, a frozen request and the shelf in, a frozen result out.

    shelf        list_inks, show_ink      what lies on the shelf, and how it looks
    match        find_recipes             a colour in, recipes in grams out
    tint         predict_tint             what a ratio looks like, and the steps around it
    correct      repair_batch             a batch that measured off, by additions only
    label        plan_label               the inner neck label
    contaminate  leave_residue            what is left of one ink in the next
    measure      measure_ink              a shelf ink from a draw-down or a swatch

Names of inks and garments, and colours, are texts as a person writes them; the shelf is made once by the caller.
What is asked for is written (pictures, ink files), whole or not at all. Masses in g, lengths in mm, colours Lab D65/2.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf

SCALE_STEP_G = 0.1
"""Step of the scale when none is told: a kitchen scale with one decimal (common practice)."""


def open_shelf() -> Shelf:
    """Return the shelf as it stands now; it is loaded here, so that a command's help needs none of it."""
    from sepkit.files.shelf.shelf import Shelf

    return Shelf()
