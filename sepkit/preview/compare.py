"""Artwork beside predicted print, and where they differ.

In: the art as seen on the garment and the predicted print (``seen.SeenPrint``).
Out: a sheet of three panels (uint8 sRGB). Numbers are of all pixels; the panels of big pictures are averaged down in
linear light, and their map is of what they show.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sepkit.colorimetry.srgb import lab_to_srgb8
from sepkit.preview.difference import difference_map

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8
    from sepkit.preview.seen import SeenPrint

Array = np.ndarray[Any, np.dtype[Any]]

SCALE_TOP_DE00 = 10.0
TICKS = ((0, "same"), (1, "1"), (3, "3 close"), (5, "5 seen"), (10, "10+ other"))
"""Words for ΔE00 at arm's length (common practice)."""
MAP_LAB = (
    (0.0, (97.0, 0.0, 3.0)),
    (0.18, (88.0, 0.0, 34.0)),
    (0.40, (74.0, 22.0, 58.0)),
    (0.62, (56.0, 52.0, 40.0)),
    (0.82, (36.0, 52.0, 4.0)),
    (1.0, (17.0, 30.0, -22.0)),
)
"""Colours of the map from no difference to much: lightness falls evenly, so the order shows in grey too."""
ABOVE = ("Artwork on the garment", "Predicted print", "Where they differ")
LEAST_PANEL_PX = 320
PAPER: RGB8 = (236, 236, 233)
TEXT: RGB8 = (30, 31, 35)
SOFT_TEXT: RGB8 = (96, 98, 104)


def compare_sheet(seen: SeenPrint, *, title: str = "") -> U8:
    """Return the sheet: artwork, predicted print, where they differ with its scale; (h, w, 3) uint8."""
    stats = seen.difference
    colours = map_colours(difference_map(seen.art, seen.printed, seen.attainable))
    panels = [_enlarged(panel) for panel in (seen.art, seen.printed, colours)]
    height, width = panels[0].shape[:2]
    unit = max(11, round(0.021 * max(height, width * 0.8)))
    gap, head, foot = round(unit * 1.5), round(unit * (4.4 if title else 2.8)), round(unit * 5.4)
    font, small = ImageFont.load_default(unit), ImageFont.load_default(max(10, round(unit * 0.82)))
    against = "the art" if seen.attainable is None else "what these inks can be on this cloth"
    words = f"dE00 from {against}: {stats.mean_de00:.1f} on average"
    cloth = f"no print here is nearer to the art than {stats.unreachable_de00:.1f}; " if stats.unreachable_de00 else ""
    far = f"{cloth}{100 * stats.far_share:.0f} % of the area is seen to differ. A prediction: print a test."
    wide = max(width, round(unit * 24))  # the words at the foot stand under two of the panels
    sheet = Image.new("RGB", (3 * wide + 4 * gap, head + height + foot), PAPER)
    draw = ImageDraw.Draw(sheet)
    if title:
        draw.text((gap, unit * 1.4), title, fill=TEXT, font=ImageFont.load_default(round(unit * 1.25)), anchor="lm")
    for place, (panel, above) in enumerate(zip(panels, ABOVE, strict=True)):
        x = gap + place * (wide + gap)
        sheet.paste(Image.fromarray(panel), (x + (wide - width) // 2, head))
        draw.text((x, head - unit), above, fill=TEXT, font=font, anchor="lm")
    foot_y = head + height
    draw.text((gap, foot_y + unit * 1.5), words, fill=TEXT, font=font, anchor="lm")
    draw.text((gap, foot_y + unit * 3.2), far, fill=SOFT_TEXT, font=small, anchor="lm")
    _legend(sheet, (gap + 2 * (wide + gap), round(foot_y + unit * 0.9), wide, round(unit * 1.2)), small)
    return np.asarray(sheet, np.uint8)


def _enlarged(panel: U8) -> U8:
    """Return a panel whose longer side is LEAST_PANEL_PX at least, as near as whole pixels come to it."""
    times = -(-LEAST_PANEL_PX // max(panel.shape[:2]))
    return panel.repeat(times, axis=0).repeat(times, axis=1) if times > 1 else panel


def map_colours(de00: Array) -> U8:
    """Return the map's colours of ΔE00 values, (...) to (..., 3) uint8; 10 and above are the same."""
    table = _map_table()
    return table[np.rint(np.clip(de00 / SCALE_TOP_DE00, 0, 1) * (len(table) - 1)).astype(np.intp)]


def _map_table() -> U8:
    at = np.linspace(0, 1, 256)
    stops = [stop for stop, _ in MAP_LAB]
    lab = np.stack([np.interp(at, stops, [colour[k] for _, colour in MAP_LAB]) for k in range(3)], axis=1)
    table: U8 = lab_to_srgb8(lab)
    return table


def _legend(sheet: Image.Image, box: tuple[int, int, int, int], font: Any) -> None:
    x, y, width, height = box
    bar = np.broadcast_to(map_colours(np.linspace(0, SCALE_TOP_DE00, width)), (height, width, 3))
    sheet.paste(Image.fromarray(np.ascontiguousarray(bar)), (x, y))
    draw = ImageDraw.Draw(sheet)
    draw.rectangle((x, y, x + width - 1, y + height - 1), outline=SOFT_TEXT)
    for value, words in TICKS:
        at = x + value / SCALE_TOP_DE00 * (width - 1)
        draw.line((at, y + height, at, y + height + 5), fill=SOFT_TEXT)
        anchor = "la" if value == 0 else ("ra" if value == SCALE_TOP_DE00 else "ma")
        draw.text((at, y + height + 8), words, fill=TEXT, font=font, anchor=anchor)
