"""Colour spaces of a composite in named inks: one Separation for each, one DeviceN for all, with what viewers show.

In: ink names, the sRGB colour that each prints as, the garment's sRGB. Out: PDF objects and their numbers.

A film device that knows the names never asks for colours; they are for viewers. What they assume: each ink hides what
lies under it as far as its tint reaches, in print order, on the bare garment. Tints average in linear light, so that
dots of several inks give Neugebauer's mixture with the topmost ink seen; the average is then told as Lab (D65).

Sources: ISO 32000-1:2008, 8.6.6.4 (Separation), 8.6.6.5 (DeviceN, Colorants, MixingHints), 8.6.5.4 (Lab), 7.10.2 and
7.10.5 (sampled and PostScript functions); CIE 15 for Lab; Neugebauer, Z. wiss. Photogr. 36:73 (1937).
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import EPSILON, KAPPA, RGB_TO_XYZ, WHITE_D65, srgb_to_linear, xyz_to_lab
from sepkit.files.films.pdf_objects import PdfObjects, name, number

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8

MOST_COLORANTS = 24
"""ISO 32000-1 (table C.1) allows 32, but our function nests as deep as there are inks, and readers stop at 32."""
PAPER: RGB8 = (255, 255, 255)
CURVE_SAMPLES = 33
LAB_RANGE = "[0 100 -128 127 -128 127]"


def lab_space(pdf: PdfObjects) -> int:
    """Write the Lab space, D65."""
    white = " ".join(number(v) for v in WHITE_D65 / WHITE_D65[1])
    return pdf.put(f"[/Lab << /WhitePoint [{white}] /Range [-128 127 -128 127] >>]")


def separation_space(pdf: PdfObjects, text: str, colour: RGB8, *, lab: int) -> int:
    """Write a Separation colour: from paper to the ink's colour, tints as their dots average in linear light."""
    tints = np.linspace(0, 1, CURVE_SAMPLES)[:, None]
    seen = xyz_to_lab(_xyz(PAPER) * (1 - tints) + _xyz(colour) * tints)
    parts = (seen - (0, -128, -128)) / (100, 255, 255)
    samples = np.rint(np.clip(parts, 0, 1) * 65535).astype(">u2")
    function, _, _ = pdf.stream(
        f"/FunctionType 0 /Domain [0 1] /Range {LAB_RANGE} /Size [{CURVE_SAMPLES}] /BitsPerSample 16 "
        "/Filter /FlateDecode",
        [zlib.compress(samples.tobytes())],
    )
    return pdf.put(f"[/Separation {name(text)} {lab} 0 R {function} 0 R]")


def all_inks_space(
    pdf: PdfObjects, names: Sequence[str], colours: Sequence[RGB8], spaces: Sequence[int], *, garment: RGB8, lab: int
) -> int:
    """Write the DeviceN of all inks in print order; ``spaces`` are their Separations.

    Raises ValueError for more than MOST_COLORANTS inks.
    """
    if not 1 <= len(names) <= MOST_COLORANTS:
        raise ValueError(f"{len(names)} inks: a DeviceN colour holds 1 to {MOST_COLORANTS}")
    domain = " ".join(["0 1"] * len(names))
    program = layered_program([_ratios(c) for c in colours], _ratios(garment)).encode("latin-1")
    function, _, _ = pdf.stream(
        f"/FunctionType 4 /Domain [{domain}] /Range {LAB_RANGE} /Filter /FlateDecode", [zlib.compress(program)]
    )
    keys = [name(text) for text in names]
    each = " ".join(f"{key} {space} 0 R" for key, space in zip(keys, spaces, strict=True))
    solid = " ".join(f"{key} 1" for key in keys)
    hints = f"<< /Solidities << {solid} /Default 1 >> /PrintingOrder [{' '.join(keys)}] >>"
    attributes = f"<< /Subtype /DeviceN /Colorants << {each} >> /MixingHints {hints} >>"
    return pdf.put(f"[/DeviceN [{' '.join(keys)}] {lab} 0 R {function} 0 R {attributes}]")


def layered_program(inks: Sequence[F64], ground: F64) -> str:
    """Return the PostScript calculator function from tints t1..tn to Lab.

    ``inks`` and ``ground`` are (3,) X/Xn, Y/Yn, Z/Zn. Pixels of bare or solid inks, nearly all of flat art, are told
    from the top down as constants: viewers run the function for each pixel. Others are mixed.
    """
    count = len(inks)
    flat = f"{_lab_text(ground)} true"
    for k, ink in enumerate(inks):
        # On the stack: t1..tn. Bare: ask the ink below. Solid: its colour. Between: mix.
        solid = f"1 eq {{ {_lab_text(ink)} true }} {{ 0 0 0 false }} ifelse"
        flat = f"{count - 1 - k} index dup 0 eq {{ pop {flat} }} {{ {solid} }} ifelse"
    mixed = _mixing(inks, ground)
    return f"{{ {flat}\n{{ }} {{ pop pop pop\n{mixed} }} ifelse {count + 3} 3 roll{' pop' * count} }}"


def _mixing(inks: Sequence[F64], ground: F64) -> str:
    """Return the words that put L a b on the stack t1..tn: per axis c becomes c + t (ink - c) for each ink."""
    lines = []
    for axis in range(3):
        lines.append(number(float(ground[axis])))
        for k, ink in enumerate(inks):
            # On the stack: t1..tn, the axes done, c, ink - c.
            lines.append(f"dup neg {number(float(ink[axis]))} add {1 + axis + len(inks) - k} index mul add")
        lines.append(
            f"dup {EPSILON:.9f} gt {{ 0.333333333 exp }} {{ {KAPPA / 116:.9f} mul {16 / 116:.9f} add }} ifelse"
        )
    # fx fy fz -> L a b
    lines.append("1 index exch sub 200 mul 3 1 roll dup 116 mul 16 sub 3 1 roll sub 500 mul 3 -1 roll")
    return "\n".join(lines)


def _lab_text(ratios: F64) -> str:
    return " ".join(number(float(v)) for v in xyz_to_lab(ratios * WHITE_D65))


def _xyz(colour: RGB8) -> F64:
    linear: F64 = RGB_TO_XYZ @ srgb_to_linear(np.array(colour) / 255.0).astype(np.float64)
    return linear


def _ratios(colour: RGB8) -> F64:
    ratios: F64 = _xyz(colour) / WHITE_D65
    return ratios
