"""A print with some screens lifted, as the engine draws it: what the page must show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sepkit.coverage.sums import any_ink
from sepkit.press.filming import tone_curve
from sepkit.preview.garment import WornPrint, draw_garment
from sepkit.preview.stack import lies_under, planes_seen, stack_colours, stack_rgb
from sepkit.workshop.print.picture import worn_print
from sepkit.workshop.print.plan import PlannedPrint


def flat_print(planned: PlannedPrint, lifted: Sequence[int] = ()):
    """Return the predicted print flat on its cloth, (h, w, 3) uint8 sRGB; a lifted screen prints nowhere."""
    plates, garment = planned.separation.plates, planned.bench.garment
    planes = planes_seen(plates, tone_curve=tone_curve(planned.making))
    for at in lifted:
        planes[at] = np.zeros_like(planes[at])
    tones = [plate.tone for plate in plates]
    return stack_rgb(planes, stack_colours(plates, garment), tones=tones, under=lies_under(plates))


def on_garment(planned: PlannedPrint, lifted: Sequence[int] = ()):
    """Return the print on its garment, (h, w, 3) uint8 sRGB."""
    plates = planned.separation.plates
    down = [at for at in range(len(plates)) if at not in set(lifted)]
    worn = worn_print(planned)
    if len(down) < len(plates):
        mask = np.zeros(plates[0].printed.shape, bool)
        if down:
            mask = any_ink([plates[at].printed for at in down])
        worn = WornPrint.of(flat_print(planned, lifted), mask, worn.width_mm, worn.height_mm, worn.place)
    return draw_garment(planned.bench.garment, worn)
