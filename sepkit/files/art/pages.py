"""PDF artwork: the first page, rendered with alpha on a clear ground at any width.

In: a file. Out: a Drawing. Page size: crop box and rotation as viewers show it, times UserUnit.
Source: ISO 32000-1, 14.11.2 (page boxes), 8.3.2.3 (user unit 1/72 in), 8.6 (colour spaces).
Pictures on the page are asked for their declared pixels before anything is drawn. The renderer works in RGB: CMYK and
spot colours are converted by it, which is said in a finding, unless the page is taken apart by the inks that it names
(spots/): then each is drawn alone. It runs in a process of its own (aside.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import ArtworkError
from sepkit.files.art.aside import Aside
from sepkit.files.art.picture import Brought, Drawing, check_pixels
from sepkit.files.art.spots.spaces import OTHER, PROCESS
from sepkit.files.words import shown
from sepkit.model import ArtPlate, Finding
from sepkit.units import MM_PER_INCH, PT_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, SeparateBy

MAX_BYTES = 500_000_000
LEAST_IMAGE_SHARE = 0.1
"""A placed picture narrower than this share of the page does not decide the rendering's resolution."""

LOOK_PIXELS = 20_000_000
"""Time and memory to find the inks of a page, as for drawing so many pixels."""
NO_SPOT = frozenset({OTHER, *PROCESS})
"""Inks that any page of CMYK has; a page is taken apart unasked when it names another."""

_SIGNATURE_WITHIN = 1024


def is_pdf(head: bytes) -> bool:
    """Return True when the first bytes hold the PDF signature (viewers accept it within the first 1024)."""
    return b"%PDF-" in head[:_SIGNATURE_WITHIN]


def open_pdf(path: Path, *, by: SeparateBy = "colour") -> Drawing:
    """Open page 1 of a PDF; ``by`` says whether it is to be taken apart by its inks.

    Raises ArtworkError when it is locked, broken, empty, or holds too large a picture, or names no ink when ``by`` is
    "plate".
    """
    if path.stat().st_size > MAX_BYTES:
        raise ArtworkError(f"the PDF is over {MAX_BYTES // 1_000_000} MB", where=path.name, hint="make it smaller")
    aside = Aside(path.name)
    try:
        data = path.read_bytes()
        facts, _ = aside.ask("open", data)
        width_pt, height_pt = float(facts["width_pt"]), float(facts["height_pt"])
        aspect = height_pt / width_pt
        image_px = _finest_picture(facts["pictures"], width_pt, path.name)
        inks, findings = _inks(aside, data, facts, by)
    except BaseException:
        aside.close()
        raise

    def render(width_px: int) -> U8:
        pixels = round(width_px * width_px * aspect)
        drawn, data = aside.ask("page", pixels=pixels, scale=(width_px - 1e-3) / width_pt)
        if drawn["channels"] != 4:
            raise ArtworkError("the page cannot be drawn with transparency", where=path.name, hint="export it as PNG")
        rows = np.frombuffer(data, np.uint8).reshape(drawn["height"], drawn["stride"])
        return rows[:, : drawn["width"] * 4].reshape(drawn["height"], drawn["width"], 4)

    def plates(width_px: int) -> Brought:
        scale, pixels = (width_px - 1e-3) / width_pt, round(width_px * width_px * aspect)
        out = []
        for ink in inks:
            drawn, rows = aside.ask("plate", pixels=pixels, ink=ink.name, scale=scale)
            coverage = np.frombuffer(rows, np.uint8).reshape(drawn["height"], drawn["width"])
            if coverage.any():
                out.append(ArtPlate(ink.shown, ink.srgb, coverage))
        return Brought(tuple(out))

    return Drawing(
        aspect=aspect,
        width_mm=width_pt * float(facts["unit"]) / PT_PER_INCH * MM_PER_INCH,
        render=render,
        image_px=image_px,
        findings=findings,
        plates=plates if inks else None,
        close=aside.close,
    )


def _finest_picture(pictures: list[Any], width_pt: float, where: str) -> float:
    """Return the page width in pixels at which the finest large picture keeps its pixels; check declared sizes."""
    needed = 0.0
    for width_px, height_px, wide_pt in pictures:
        check_pixels(width_px, height_px, where, what="a picture on the page")
        if wide_pt >= LEAST_IMAGE_SHARE * width_pt:
            needed = max(needed, width_px * width_pt / wide_pt)
    return needed


@dataclass(frozen=True, slots=True)
class _PageInk:
    """An ink that the page paints with."""

    name: str
    """As the file spells it; empty for what no ink is named for."""
    srgb: RGB8

    @property
    def shown(self) -> str:
        """Its name, safe to show."""
        return " ".join(shown(self.name).split())


def _inks(
    aside: Aside, data: bytes, facts: dict[str, Any], by: SeparateBy
) -> tuple[tuple[_PageInk, ...], list[Finding]]:
    """Return the inks to take the page apart by, none where it is not to be, and what to tell of the page."""
    named = not {"/Separation", "/DeviceN"}.isdisjoint(facts["spaces"])
    if not (by == "plate" or (by == "auto" and named)):
        return (), _findings(facts, named=named)
    answer, _ = aside.ask("inks", data, pixels=LOOK_PIXELS)
    inks = tuple(_PageInk(str(name), (int(c[0]), int(c[1]), int(c[2]))) for name, c in answer.get("inks", ()))
    if any(ink.name not in NO_SPOT for ink in inks) or (by == "plate" and any(ink.name for ink in inks)):
        return inks, _findings(facts | {"spaces": ()}, named=False)
    why = str(answer.get("unreadable", "no ink is named on it"))
    if by == "plate":
        raise ArtworkError(f"cannot be taken apart by inks: {why}", where=aside.where, hint="give --by colour")
    return (), _findings(facts, named="unreadable" in answer, why=why)


def _findings(facts: dict[str, Any], *, named: bool, why: str = "") -> list[Finding]:
    findings: list[Finding] = []
    if facts["pages"] > 1:
        findings.append(Finding("first-page", "info", f"{facts['pages']} pages in the file; the first is used"))
    if named:
        findings.append(
            Finding(
                "spot-converted",
                "warn" if why else "info",
                "spot colours were converted by their stand-in colours",
                "name the inks with --inks if they come out wrong" if why else "--by plate keeps them as they are",
                more=why,
            )
        )
    if "/DeviceCMYK" in facts["spaces"]:
        findings.append(
            Finding(
                "cmyk-default",
                "warn",
                "CMYK colours on the page were converted to sRGB without their profile",
                "save it as sRGB if the colours look wrong",
            )
        )
    return findings
