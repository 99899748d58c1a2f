"""Spectra of spot-colour data in the XML of ISO 17972 (CxF3).

In: the text of a file. Out: (name, wavelengths in nm, reflectances 0..1) of each object that carries a spectrum.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np

from sepkit.errors import UsageError
from sepkit.files.words import shown

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]


def read_cxf(text: str, file: str) -> list[tuple[str, F64, F64]]:
    """Return the spectra of a CxF3 document. Raises UsageError for XML that is none, or carries no spectrum."""
    if re.search(r"<!(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise UsageError("declares a document type", where=file, hint="export plain CxF3; entities are not read")
    try:
        root = ElementTree.fromstring(text)  # no entities can be declared: refused above
    except ElementTree.ParseError as error:
        raise UsageError(f"is not XML: {error}", where=file, hint="export it again") from error
    if _local(root) != "CxF":
        raise UsageError(f"holds <{shown(_local(root))}>, not CxF3", where=file, hint="export ISO 17972 (CxF3) data")
    ranges = {spec.get("Id", ""): found for spec in _all(root, "ColorSpecification") if (found := _range(spec))}
    out: list[tuple[str, F64, F64]] = []
    for entry in _all(root, "Object"):
        for spectrum in _all(entry, "ReflectanceSpectrum"):
            name = entry.get("Name") or spectrum.get("Name") or f"colour {len(out) + 1}"
            out.append((name, *_curve(spectrum, ranges, f"{file}, {shown(name)}")))
            break
    if not out:
        raise UsageError("carries no reflectance spectrum", where=file, hint="export it with spectral data")
    return out


def _curve(spectrum: ElementTree.Element, ranges: dict[str, tuple[float, float]], where: str) -> tuple[F64, F64]:
    start, step = ranges.get(spectrum.get("ColorSpecification", ""), (400.0, 10.0))
    try:
        start = float(spectrum.get("StartWL", start))
        values = np.array([float(v) for v in (spectrum.text or "").split()], np.float64)
    except ValueError:
        raise UsageError("a reflectance is no number", where=where, hint="export it again") from None
    if len(values) == 0:
        raise UsageError("an empty spectrum", where=where, hint="export it again")
    return start + step * np.arange(len(values), dtype=np.float64), values


def _range(spec: ElementTree.Element) -> tuple[float, float] | None:
    for found in _all(spec, "WavelengthRange"):
        try:
            return float(found.get("StartWL", 400)), float(found.get("Increment", 10))
        except ValueError:
            return None
    return None


def _all(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [element for element in root.iter() if _local(element) == name]


def _local(element: ElementTree.Element) -> str:
    return str(element.tag).rpartition("}")[2]
