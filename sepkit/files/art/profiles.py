"""Colours of a file to sRGB: by its embedded ICC profile, or CMYK without one by a documented default.

In: a picture in L, RGB, LAB or CMYK. Out: (h, w, 3) uint8 sRGB D65/2, and a finding when colours were changed.
Profiles: relative colorimetric with black point compensation (ISO 15076-1; ISO 18619 for the compensation).

The default for CMYK is the Yule-Nielsen modified Neugebauer equation (J. A. C. Yule, W. J. Nielsen, TAGA 1951) over
the sixteen solid overprints of offset on coated paper. Their Lab values (D50/2, white backing) are those of
ISO 12647-2:2004, paper type 1, from memory; overprints with black are the product of the two over the paper. They
are taken relative to the paper with the darkest overprint as black, as a viewing program does.
Tone gain in print: TONE_GAIN at half tone, as a parabola.
"""

from __future__ import annotations

import io
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageChops, ImageCms

from sepkit.colorimetry.srgb import RGB_TO_XYZ, XYZ_TO_RGB, lab_to_xyz, linear_to_srgb
from sepkit.coverage.bands import row_bands
from sepkit.errors import ArtworkError
from sepkit.files.words import shown
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import F32, F64, U8

SOLIDS_LAB = {
    "": (95.0, 0.0, -2.0),
    "c": (55.0, -37.0, -50.0),
    "m": (48.0, 74.0, -3.0),
    "y": (91.0, -5.0, 93.0),
    "my": (47.0, 68.0, 48.0),
    "cy": (50.0, -65.0, 27.0),
    "cm": (24.0, 22.0, -46.0),
    "cmy": (23.0, 0.0, 0.0),
    "k": (16.0, 0.0, 0.0),
}
TONE_GAIN = 0.15
"""Gain at 50 % on film and plate, class of 13-16 % (ISO 12647-2:2004, from memory)."""
YULE_NIELSEN = 2.0
"""Full spread of light in the paper."""

_SAME_WITHIN = 2
"""Largest change of an 8-bit value for which a profile counts as sRGB itself."""

_WHITE_D50 = np.array([0.96422, 1.0, 0.82521])
"""Profile connection space white, ISO 15076-1."""
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
_CHUNK = 16_384
"""Pixels at a time, so that the sixteen mixtures stay in cache."""
_ROOT_STEPS = 4096
_BAND_ROWS = 64


def to_srgb(image: Image.Image, icc: bytes | None, where: str, findings: list[Finding]) -> U8:
    """Return (h, w, 3) sRGB of a picture in L, RGB, RGBA, LAB or CMYK (255 = full ink), and add what was done.

    Alpha is left out. A profile that cannot be used gives a finding and is left out. Raises ArtworkError for LAB that
    cannot be converted.
    """
    if image.mode == "LAB":
        lab = ImageCms.createProfile("LAB")
        findings.append(Finding("profile-converted", "info", "Lab colours were converted to sRGB"))
        return np.array(_converted(image, ImageCms.ImageCmsProfile(lab)))
    if icc and image.mode == "RGBA":
        image = image.convert("RGB")
    profile = _profile(icc, image.mode, findings) if icc else None
    if profile is not None:
        try:
            return _by_profile(image, profile, findings)
        except ImageCms.PyCMSError:
            findings.append(_unusable("it does not fit the colours of the file"))
    if image.mode == "CMYK":
        findings.append(
            Finding(
                "cmyk-default",
                "warn",
                "CMYK without a usable profile: converted as offset ink on coated paper",
                "if colours look wrong, save it as sRGB or with its profile",
            )
        )
        return cmyk_to_srgb(np.asarray(image))
    if image.mode not in {"L", "RGB", "RGBA"}:
        raise ArtworkError(f"its colours ({image.mode}) cannot be converted", where=where, hint="save it as sRGB")
    return colour_of(image)


def colour_of(image: Image.Image) -> U8:
    """Return the (h, w, 3) RGB of a picture, a few rows at a time: no second picture of its size exists."""
    width, height = image.size
    out = np.empty((height, width, 3), np.uint8)
    for band in row_bands(height, _BAND_ROWS):
        part = image.crop((0, band.start, width, band.stop))
        part = part if part.mode in {"RGB", "RGBA"} else part.convert("RGB")
        out[band.start : band.stop] = _packed(part, "RGB").reshape(-1, width, 3)
    return out


def alpha_of(image: Image.Image) -> U8:
    """Return the alpha of a picture in RGBA, likewise."""
    width, height = image.size
    out = np.empty((height, width), np.uint8)
    for band in row_bands(height, _BAND_ROWS):
        out[band.start : band.stop] = _packed(image.crop((0, band.start, width, band.stop)), "A").reshape(-1, width)
    return out


def _packed(image: Image.Image, channels: str) -> U8:
    """Return these channels of a picture, byte by byte: without a picture of them in between."""
    return np.frombuffer(image.tobytes("raw", channels), np.uint8)


def upright_cmyk(image: Image.Image) -> Image.Image:
    """Return CMYK with 255 = full ink.

    JPEGs of the Adobe kind (APP14 marker) store it upside down, and the decoder turns every CMYK JPEG for that
    reason; one without the marker is turned back.
    """
    if image.format == "JPEG" and "adobe" not in image.info:
        return ImageChops.invert(image)
    return image.copy()


def cmyk_to_srgb(cmyk: Any) -> U8:
    """Return (h, w, 3) uint8 sRGB of (h, w, 4) uint8 CMYK, 255 = full ink, by the default of this module."""
    steps = np.arange(256) / 255
    gained = (steps + 4 * TONE_GAIN * steps * (1 - steps)).astype(np.float32)
    root_steps = np.linspace(0, 1, _ROOT_STEPS)
    encoded = np.rint(linear_to_srgb(root_steps**YULE_NIELSEN) * 255).astype(np.uint8)
    solids = _solids_root()
    flat = cmyk.reshape(-1, 4)
    out = np.empty((flat.shape[0], 3), np.uint8)
    for top in range(0, flat.shape[0], _CHUNK):
        share = gained[flat[top : top + _CHUNK]]
        mixed = solids[..., None]
        for channel in (3, 2, 1, 0):  # black first: each step halves what is left to mix
            mixed = mixed[..., 0, :, :] + share[:, channel] * (mixed[..., 1, :, :] - mixed[..., 0, :, :])
        index = (mixed * (_ROOT_STEPS - 1) + 0.5).astype(np.int32)
        out[top : top + _CHUNK] = encoded[index].T
    return out.reshape(*cmyk.shape[:2], 3)


@lru_cache(maxsize=1)
def _solids_root() -> F32:
    """Return (2, 2, 2, 2, 3): linear sRGB of the overprints, axes c, m, y, k without and with, to the power 1/n."""
    paper = _xyz50(SOLIDS_LAB[""])
    black = _xyz50(SOLIDS_LAB["k"]) / paper
    relative = []
    for bits in product((0, 1), repeat=4):
        inks = "".join(name for name, on in zip("cmy", bits[:3], strict=True) if on)
        relative.append(_xyz50(SOLIDS_LAB[inks]) / paper * (black if bits[3] else 1.0))
    xyz = np.array(relative)
    darkest = float(xyz[-1, 1])
    linear = _d65_of_relative((xyz - darkest) / (1 - darkest)) @ XYZ_TO_RGB.T
    return np.asarray(linear.clip(0, 1) ** (1 / YULE_NIELSEN), np.float32).reshape(2, 2, 2, 2, 3)


def _d65_of_relative(relative: F64) -> F64:
    """Return XYZ under D65 of XYZ relative to paper (1, 1, 1), adapted from D50 by the Bradford transform."""
    cone = (relative * _WHITE_D50) @ _BRADFORD.T
    white50, white65 = _BRADFORD @ _WHITE_D50, _BRADFORD @ RGB_TO_XYZ.sum(axis=1)
    return np.asarray((cone * (white65 / white50)) @ np.linalg.inv(_BRADFORD).T, np.float64)


def _xyz50(lab: tuple[float, float, float]) -> F64:
    return np.asarray(lab_to_xyz(np.array(lab), _WHITE_D50), np.float64)


def _profile(icc: bytes, mode: str, findings: list[Finding]) -> ImageCms.ImageCmsProfile | None:
    wanted = {"L": "GRAY", "RGB": "RGB", "CMYK": "CMYK"}.get(mode)
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        space = profile.profile.xcolor_space.strip()
    except (OSError, ImageCms.PyCMSError, ValueError):
        findings.append(_unusable("it is broken"))
        return None
    if space != wanted:
        findings.append(_unusable(f"it is for {space}, the file holds {wanted or mode}"))
        return None
    return profile


def _by_profile(image: Image.Image, profile: ImageCms.ImageCmsProfile, findings: list[Finding]) -> U8:
    name = shown(" ".join((ImageCms.getProfileDescription(profile) or "without a name").split()), most=80)
    if image.mode != "CMYK":
        sample = _sample(image.mode)
        change = np.asarray(_converted(sample, profile)).astype(int) - np.asarray(sample.convert("RGB"))
        if np.abs(change).max() <= _SAME_WITHIN:
            return np.array(image.convert("RGB"))
    converted = np.array(_converted(image, profile))
    findings.append(Finding("profile-converted", "info", f"colours were converted to sRGB from the profile: {name}"))
    return converted


def _sample(mode: str) -> Image.Image:
    if mode == "L":
        return Image.fromarray(np.arange(256, dtype=np.uint8)[None])
    axis = np.linspace(0, 255, 9).astype(np.uint8)
    grid = np.stack(np.meshgrid(axis, axis, axis), axis=-1).reshape(1, -1, 3)
    return Image.fromarray(np.ascontiguousarray(grid))


def _converted(image: Image.Image, profile: ImageCms.ImageCmsProfile) -> Image.Image:
    result = ImageCms.profileToProfile(
        image,
        profile,
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    if result is None:
        raise ImageCms.PyCMSError("no result")
    return result


def _unusable(why: str) -> Finding:
    return Finding("profile-unusable", "warn", f"the embedded profile was left out: {why}", "save the art as sRGB")
