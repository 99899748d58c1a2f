"""The values of a reference chart that lies beside a print or a card, and a photograph's correction by it.

In: "published", or a CSV or CxF file of 24 colours that the person has. Out: Lab D65/2 row by row; the correction of a
photograph that shows the chart.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError, UsageError
from sepkit.reading.camera import Correction, correction
from sepkit.reading.chart import COLUMNS, ROWS, ReadChart, find_chart

if TYPE_CHECKING:
    from collections.abc import Callable

    from sepkit.model import F64
    from sepkit.reading.picture import Photo

PUBLISHED = "published"
_CELL = re.compile(r"([A-Da-d])[ -]?([1-6])")
WORST_FIT_DE00 = 9.0


@dataclass(frozen=True, slots=True, eq=False)
class ChartValues:
    """A chart's patches, (24, 3) Lab D65/2 row by row from the top left, and where the values are from."""

    lab: F64
    source: str


def chart_values(text: str) -> ChartValues:
    """Return the values of a chart: "published", or those of a file. Raises UsageError, NotFoundError.

    Rows of a file are taken in their order; patches named A1 to D6 are put in theirs.
    """
    from sepkit.colorimetry.spectral import reflectance_to_lab

    if text == PUBLISHED:
        from sepkit.colorimetry.reference import published_chart

        return ChartValues(reflectance_to_lab(published_chart()), "published values (mean of thirty charts)")
    from sepkit.files.shelf.colours import read_colours

    colours = read_colours(Path(text))
    count = COLUMNS * ROWS
    if len(colours) != count:
        hint = f"give {count} rows, {ROWS} rows of {COLUMNS} patches from the top left"
        raise UsageError(f"holds {len(colours)} colours", where=text, hint=hint)
    cells = [_CELL.fullmatch(one.target.name.strip()) for one in colours]
    rows = [(cell[1].upper(), cell[2], one) for cell, one in zip(cells, colours, strict=True) if cell]
    if len(rows) == count:
        colours = [one for _, _, one in sorted(rows, key=lambda row: row[:2])]
    return ChartValues(np.array([one.target.lab for one in colours], np.float64), Path(text).name)


def corrected(
    photo: Photo, values: ChartValues, light: Callable[[F64], F64], *, where: str
) -> tuple[Correction, ReadChart]:
    """Return the correction by the chart in a photograph; ``light`` tells the light (n, 3) at photo pixels (n, 2).

    Raises PhotoError where the photograph shows no such chart.
    """
    found = find_chart(photo, values.lab)
    if found is None or found.fit_de00 > WORST_FIT_DE00:
        hint = "lay the chart flat beside it, whole, in the same light; check that the file has its values, row by row"
        raise PhotoError("does not show the reference chart", where=where, hint=hint)
    try:
        return correction(found.linear / light(found.xy), values.lab), found
    except ValueError as error:
        raise UsageError(str(error), where=values.source, hint="take a chart of 24 patches with grey steps") from error
