"""Spaces, shadings and pictures in greys that show one ink: white none, black solid.

In: pypdf objects of the page and a writer. Out: objects in the writer, with as many components as before, so that
samples, masks by colour and shading functions stay as they are.
Sources: ISO 32000-1:2008, 7.10.3 and 7.10.5 (functions), 8.6.6, 8.7.4 (shadings), 8.9.5 (images).
"""

from __future__ import annotations

import io
from typing import Any

from sepkit.files.art.spots.spaces import OTHER, Space, place_of, there, tint


def parsed(text: str) -> Any:
    """Return an object written as PDF."""
    from pypdf.generic import read_object

    return read_object(io.BytesIO(text.encode("latin-1") + b" "), None)


def grey_space(space: Space, ink: str, writer: Any) -> Any:
    """Return the colour space that shows ``ink`` of colours in ``space``."""
    if space.kind == "indexed" and space.base is not None:
        count = max(len(space.table) // space.base.count, 1)
        greys = bytes(255 - round(255 * tint(space, (float(index),), ink)) for index in range(count))
        return parsed(f"[/Indexed /DeviceGray {count - 1} <{greys.hex()}>]")
    place = place_of(space, ink)
    if space.kind == "grey" and place is not None:
        return parsed("/DeviceGray")
    if space.count == 1:
        end = 1 if place is None else 0
        return parsed(f"[/Separation /P /DeviceGray << /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [{end}] /N 1 >>]")
    from pypdf.generic import DecodedStreamObject

    function = DecodedStreamObject()
    function.set_data(grey_program(space, ink).encode())
    function.update(parsed(f"<< /FunctionType 4 /Domain [{' 0 1' * space.count}] /Range [0 1] >>"))
    names = " ".join(f"/P{k}" for k in range(space.count))
    out = parsed(f"[/DeviceN [{names}] /DeviceGray]")
    out.append(writer._add_object(function))
    return out


def even_steps(shading: Any) -> None:
    """Shift the functions of an axial or radial shading by half a step of the renderer's.

    The renderer (PDFium) looks colours up in 256 steps, each in its lower end's colour at k / 256 for what lies from
    k / 255 on; so functions are asked at (k + 1/2) / 255 instead, and no tint is off by more than half a step.
    """
    if int(there(shading.get("/ShadingType", 0))) not in (2, 3) or "/Function" not in shading:
        return
    low, high = (float(there(value)) for value in there(shading.get("/Domain", (0.0, 1.0))))
    span = high - low
    ends = f"{low + 0.5 * span / 255:.9g} {low + 256.5 * span / 255:.9g}"
    held = shading.raw_get("/Function")
    functions = there(held)
    wrapped = [_shifted(one, low, high, ends) for one in (functions if isinstance(functions, list) else [held])]
    out = parsed("[]")
    out.extend(wrapped)
    shading[parsed("/Function")] = out if isinstance(functions, list) else wrapped[0]


def _shifted(function: Any, low: float, high: float, ends: str) -> Any:
    wrapper = parsed(f"<< /FunctionType 3 /Domain [{low:.9g} {high:.9g}] /Bounds [] /Encode [{ends}] /Functions [] >>")
    wrapper["/Functions"].append(function)
    return wrapper


def grey_program(space: Space, ink: str) -> str:
    """Return the PostScript function of a space of several components to grey.

    >>> from sepkit.files.art.spots.spaces import CMYK
    >>> grey_program(CMYK, "Black")
    '{ 0 index 5 1 roll pop pop pop pop 1 exch sub }'
    """
    place = place_of(space, ink)
    drop = " ".join(["pop"] * space.count)
    if place is None:
        return f"{{ {drop} {0 if space.kind == 'light' and ink == OTHER else 1} }}"
    return f"{{ {space.count - 1 - place} index {space.count + 1} 1 roll {drop} 1 exch sub }}"
