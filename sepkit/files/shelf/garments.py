"""garments.toml: blank garments, and the size charts of their shapes.

    [sizes.tee]                                     # what garments of a shape have unless they say otherwise
    half_chest_mm = { S = 460, M = 510 }
    body_length_mm = { S = 690, M = 720 }
    fleece = false
    hood = false

    [[garment]]
    name = "black tee"
    shape = "tee"
    srgb = "#1a1a1c"
    weight_g_m2 = 180
    cotton = 1
    polyester = 0
    reflectance = [31 numbers]                      # measured: 0..1, 400-700 nm in 10 nm bands

In: the files, the person's own first: an entry of the same name there replaces ours, and so does each key of a size
chart. Out: GarmentEntry by lower-case name, and model.Garment. Lengths mm, weight g/m², shares 0..1.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import NotFoundError, UsageError, near_names
from sepkit.files.toml.keys import Key, choice_key, keys_of
from sepkit.files.toml.read import TomlFile
from sepkit.files.toml.table import Table, unique
from sepkit.files.words import shown
from sepkit.model import BANDS_NM, GARMENT_SHAPES, RGB8, Garment, GarmentShape
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from sepkit.model import F64

FILE_NAME = "garments.toml"
PLAIN_WEIGHT_G_M2 = 180.0
"""Cloth weight taken for a garment given as a bare colour (common practice for a tee)."""

SHAPE = choice_key("garment", "shape", "how it is cut and drawn", GARMENT_SHAPES)
KEYS: tuple[Key, ...] = (
    Key("sizes", "half_chest_mm", "lengths by size", "flat width of the chest by size", "mm", 150, 1200),
    Key("sizes", "body_length_mm", "lengths by size", "length of the body by size", "mm", 200, 1500),
    Key("sizes", "fleece", "yes/no", "thick cloth that creeps on the platen"),
    Key("sizes", "hood", "yes/no", "a hood hides the top of the back"),
    Key("garment", "name", "text", "name of the garment", must=True),
    SHAPE,
    Key("garment", "srgb", "colour", "colour of the cloth", must=True),
    Key("garment", "weight_g_m2", "number", "weight of the cloth", "g/m²", 50, 1000, must=True),
    Key("garment", "cotton", "number", "share of cotton", "", 0, 1, must=True),
    Key("garment", "polyester", "number", "share of polyester", "", 0, 1, must=True),
    Key("garment", "reflectance", "numbers", "measured reflectance, 400 to 700 nm", "", 0, 1, count=len(BANDS_NM)),
)
_CHART_KEYS = keys_of(KEYS, "sizes")
_GARMENT_KEYS = _CHART_KEYS | keys_of(KEYS, "garment")
_HEX = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Chart:
    """What garments of a shape have unless they say otherwise."""

    half_chest_mm: Mapping[str, float] = field(default_factory=dict)
    body_length_mm: Mapping[str, float] = field(default_factory=dict)
    fleece: bool = False
    hood: bool = False


@dataclass(frozen=True, slots=True)
class GarmentEntry:
    """One entry as checked; its colour is computed when it is asked for."""

    name: str
    shape: GarmentShape
    srgb: RGB8
    weight_g_m2: float
    cotton_share: float
    polyester_share: float
    reflectance: tuple[float, ...]
    """Empty: estimated from the colour."""
    chart: Chart


@dataclass(frozen=True, slots=True)
class GarmentShelf:
    """All garments by lower-case name, the person's own first, and the chart of each shape."""

    entries: Mapping[str, GarmentEntry]
    charts: Mapping[str, Chart]

    def garment(self, name_or_hex: str) -> Garment:
        """Return the garment of that name (any case), or a plain tee in that colour for ``#rrggbb``.

        Raises NotFoundError, or UsageError for what is no colour.
        """
        text = " ".join(name_or_hex.split())
        if text.startswith("#"):
            if not _HEX.fullmatch(text):
                raise UsageError(f'"{shown(text)}" is not a colour', where="garment", hint="write it as #rrggbb")
            return _garment(self._plain(parse_hex(text, what="garment")))
        if text.lower() not in self.entries:
            names = [entry.name for entry in self.entries.values()]
            hint = near_names(text, names) + ", or give a #rrggbb"
            raise NotFoundError(f'no garment is called "{shown(text)}"', where="garment", hint=hint)
        return _garment(self.entries[text.lower()])

    def _plain(self, srgb: RGB8) -> GarmentEntry:
        chart = self.charts.get("tee", Chart())
        return GarmentEntry(to_hex(srgb), "tee", srgb, PLAIN_WEIGHT_G_M2, 1.0, 0.0, (), chart)


def garment_shelf(files: Sequence[TomlFile]) -> GarmentShelf:
    """Return the garments of all files, the person's own file first. Raises DataFileError."""
    charts: dict[str, Chart] = {}
    for file in reversed(files):
        _read_charts(file, charts)
    entries: dict[str, GarmentEntry] = {}
    for file in files:
        tables = file.tables("garment", _GARMENT_KEYS)
        unique(tables, "garment")
        for table in tables:
            entry = _entry(table, charts)
            entries.setdefault(entry.name.lower(), entry)
        file.check()
    return GarmentShelf(entries, charts)


def _read_charts(file: TomlFile, charts: dict[str, Chart]) -> None:
    """Add the size charts of a file; what it does not say of a shape stays as it was."""
    file.top({}, ("garment", "sizes"))
    shapes: dict[str, Key] = {shape: Key("sizes", shape, "table", "size chart") for shape in GARMENT_SHAPES}
    sizes = file.table("sizes", shapes)
    for shape in GARMENT_SHAPES:
        if shape in sizes.given:
            charts[shape] = _chart(sizes.table(shape, _CHART_KEYS), charts.get(shape, Chart()))


def _chart(table: Table, otherwise: Chart) -> Chart:
    given = table.given
    return Chart(
        half_chest_mm=table.by_name("half_chest_mm") if "half_chest_mm" in given else otherwise.half_chest_mm,
        body_length_mm=table.by_name("body_length_mm") if "body_length_mm" in given else otherwise.body_length_mm,
        fleece=table.yes("fleece") if "fleece" in given else otherwise.fleece,
        hood=table.yes("hood") if "hood" in given else otherwise.hood,
    )


def _entry(table: Table, charts: Mapping[str, Chart]) -> GarmentEntry:
    name, shape = table.text("name"), table.choice(SHAPE)
    if name.startswith("#"):
        table.problem("name", f'is "{name}", and #rrggbb is a plain tee of that colour', "choose another name")
    cotton, polyester = table.number("cotton"), table.number("polyester")
    if cotton + polyester > 1.0 + 1e-6:
        table.problem("polyester", f"and cotton are {cotton + polyester:g} in all", "give shares that add up to 1")
    return GarmentEntry(
        name=name,
        shape=shape,
        srgb=table.colour("srgb"),
        weight_g_m2=table.number("weight_g_m2"),
        cotton_share=cotton,
        polyester_share=polyester,
        reflectance=table.numbers("reflectance"),
        chart=_chart(table, charts.get(shape, Chart())),
    )


def _garment(entry: GarmentEntry) -> Garment:
    lab = srgb8_to_lab(np.array(entry.srgb, np.uint8))
    return Garment(
        name=entry.name,
        shape=entry.shape,
        srgb=entry.srgb,
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        reflectance=_reflectance(entry),
        weight_g_m2=entry.weight_g_m2,
        cotton_share=entry.cotton_share,
        polyester_share=entry.polyester_share,
        status="measured" if entry.reflectance else "estimated",
        half_chest_mm=dict(entry.chart.half_chest_mm),
        body_length_mm=dict(entry.chart.body_length_mm),
        fleece=entry.chart.fleece,
        hood=entry.chart.hood,
    )


def _reflectance(entry: GarmentEntry) -> F64:
    if entry.reflectance:
        return np.array(entry.reflectance, np.float64)
    from sepkit.colorimetry.upsampling import srgb8_to_reflectance

    return np.array(srgb8_to_reflectance(entry.srgb), np.float64)
