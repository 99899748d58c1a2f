"""PDF artwork: the first page, rendered with alpha on a clear ground at any width.

In: a file. Out: a Drawing. Page size: crop box and rotation as viewers show it, times UserUnit.
Source: ISO 32000-1, 14.11.2 (page boxes), 8.3.2.3 (user unit 1/72 in), 8.6 (colour spaces).
Pictures on the page are asked for their declared pixels before anything is drawn. The renderer works in RGB: CMYK and
spot colours are converted by it, which is said in a finding. It runs in a process of its own (aside.py).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import ArtworkError
from sepkit.files.art.aside import Aside
from sepkit.files.art.picture import Drawing, check_pixels
from sepkit.model import Finding
from sepkit.units import MM_PER_INCH, PT_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8

MAX_BYTES = 500_000_000
LEAST_IMAGE_SHARE = 0.1
"""A placed picture narrower than this share of the page does not decide the rendering's resolution."""

_SIGNATURE_WITHIN = 1024


def is_pdf(head: bytes) -> bool:
    """Return True when the first bytes hold the PDF signature (viewers accept it within the first 1024)."""
    return b"%PDF-" in head[:_SIGNATURE_WITHIN]


def open_pdf(path: Path) -> Drawing:
    """Open page 1 of a PDF. Raises ArtworkError when it is locked, broken, empty, or holds too large a picture."""
    if path.stat().st_size > MAX_BYTES:
        raise ArtworkError(f"the PDF is over {MAX_BYTES // 1_000_000} MB", where=path.name, hint="make it smaller")
    aside = Aside(path.name)
    try:
        facts, _ = aside.ask("open", path.read_bytes())
        width_pt, height_pt = float(facts["width_pt"]), float(facts["height_pt"])
        aspect = height_pt / width_pt
        image_px = _finest_picture(facts["pictures"], width_pt, path.name)
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

    return Drawing(
        aspect=aspect,
        width_mm=width_pt * float(facts["unit"]) / PT_PER_INCH * MM_PER_INCH,
        render=render,
        image_px=image_px,
        findings=_findings(facts),
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


def _findings(facts: dict[str, Any]) -> list[Finding]:
    findings: list[Finding] = []
    if facts["pages"] > 1:
        findings.append(Finding("first-page", "info", f"{facts['pages']} pages in the file; the first is used"))
    if not {"/Separation", "/DeviceN"}.isdisjoint(facts["spaces"]):
        findings.append(
            Finding(
                "spot-converted",
                "info",
                "spot colours on the page were converted to sRGB by their stand-in colours",
                "name the inks with --inks if they come out wrong",
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
