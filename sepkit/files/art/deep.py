"""Pictures of more than 8 bits per channel, rounded to 8 and never cut.

In: an opened 16-bit PNG, or a TIFF file. Out: 16-bit values, or a Picture at 8 bit.
A general decoder keeps only the high byte of 16-bit colour, which darkens by half a step and makes 255 of 0xff00;
v8 = round(v16 / 257) instead. Sources: PNG (ISO/IEC 15948, 13.12 sample depth rescaling), TIFF 6.0 tags.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, PngImagePlugin

from sepkit.errors import ArtworkError, MissingPartError
from sepkit.files.art import profiles
from sepkit.files.art.picture import Picture, check_pixels, turn
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import U8

_MIN_IS_WHITE, _MIN_IS_BLACK, _RGB, _SEPARATED = 0, 1, 2, 5
_ASSOCIATED, _UNASSOCIATED = 1, 2
_COLOURS = {_MIN_IS_WHITE: 1, _MIN_IS_BLACK: 1, _RGB: 3, _SEPARATED: 4}
_CMYK_INKS = 1
_EXTRA_SAMPLES = 338
_MOST_CHANNELS = 16
_PER_INCH = {2: 1.0, 3: 2.54}


def bits_finding() -> Finding:
    """Return what to tell when 16-bit values were rounded."""
    return Finding("bits-reduced", "info", "16 bits per channel were rounded to 8")


def extra_channel_finding() -> Finding:
    """Return what to tell when a channel was left out that the file does not call alpha."""
    return Finding(
        "extra-channel",
        "warn",
        "a further channel that is not marked as transparency was left out",
        "save transparency as alpha, or flatten the file",
    )


def has_unnamed_channel(image: Image.Image) -> bool:
    """Return True for an opened TIFF with an extra channel of no stated meaning (TIFF 6.0, ExtraSamples = 0)."""
    extra = getattr(image, "tag_v2", {}).get(_EXTRA_SAMPLES, ())
    return 0 in (extra if isinstance(extra, tuple) else (extra,))


def to_8_bit(values: Any) -> U8:
    """Return 16-bit values 0..65535 as 8-bit 0..255, rounded to nearest."""
    wide = np.asarray(values).astype(np.uint32)
    return ((wide * 255 + 32767) // 65535).astype(np.uint8)


def is_tiff(head: bytes) -> bool:
    """Return True for the first bytes of a TIFF or BigTIFF file."""
    return head[:4] in {b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"}


def png_is_deep(image: Image.Image) -> bool:
    """Return True for an opened, not yet decoded PNG of 16 bits in colour or with alpha (16-bit grey opens as such)."""
    return str(getattr(_tile(image), "args", "")) in {"RGB;16B", "RGBA;16B", "LA;16B"}


def _tile(image: Image.Image) -> Any:
    tiles: Any = getattr(image, "tile", None)
    return tiles[0] if tiles else None


def png_values(image: Image.Image) -> tuple[Any, tuple[int, ...] | None]:
    """Decode a deep PNG to (h, w, 2, 3 or 4) uint16, and its transparent colour if it names one.

    The scan lines are decoded as they are and unpacked twice, once for each byte of a value.
    """
    layout = str(_tile(image).args)
    transparent = image.info.get("transparency")
    source = image.fp  # type: ignore[attr-defined]
    if layout == "LA;16B":  # two 16-bit values are four bytes, as one RGBA pixel
        four = _decode_as(source, "RGBA", "RGBA")
        return np.ascontiguousarray(four).view(">u2").astype(np.uint16), None
    mode = layout.partition(";")[0]
    high, low = _decode_as(source, mode, f"{mode};16B"), _decode_as(source, mode, f"{mode};16L")
    named = transparent if isinstance(transparent, tuple) and mode == "RGB" else None
    return (high.astype(np.uint16) << 8) | low, named


def png_colour(values: Any) -> Image.Image:
    """Return deep PNG values without their alpha as an 8-bit picture in L or RGB."""
    if values.shape[2] == 2:
        return Image.fromarray(to_8_bit(values[..., 0]))
    return Image.fromarray(to_8_bit(values[..., :3]))


def png_alpha(values: Any, transparent: tuple[int, ...] | None) -> U8:
    """Return the 8-bit alpha of deep PNG values; ``transparent`` is a colour that counts as clear."""
    if values.shape[2] in {2, 4}:
        return to_8_bit(values[..., -1])
    if transparent is None:
        return np.full(values.shape[:2], 255, np.uint8)
    clear = np.all(values == np.array(transparent, np.uint16), axis=2)
    return np.where(clear, 0, 255).astype(np.uint8)


def _decode_as(source: Any, mode: str, layout: str) -> U8:
    source.seek(0)
    image = PngImagePlugin.PngImageFile(source)
    image._mode = mode
    image.tile = [image.tile[0]._replace(args=layout)]
    return np.array(image)


def read_deep_tiff(path: Path, findings: list[Finding]) -> Picture | None:
    """Read the first page of a 16-bit TIFF; None when it has 8 bits or fewer, for the general decoder.

    Where the file is packed in a way that needs the optional decoders and these are missing, the general decoder
    reads the high 8 bits, with a finding; raises MissingPartError when it cannot.
    """
    import tifffile

    with tifffile.TiffFile(path) as tiff:
        page: Any = tiff.pages[0]
        check_pixels(page.imagewidth, page.imagelength, path.name)
        if page.bitspersample <= 8:
            return None
        if page.samplesperpixel > _MOST_CHANNELS:
            raise ArtworkError(f"has {page.samplesperpixel} channels", where=path.name, hint="flatten it to RGB")
        if page.bitspersample != 16 or page.sampleformat != 1 or int(page.photometric) not in _COLOURS:
            kind = f"{page.bitspersample}-bit {page.photometric.name.lower()}"
            raise ArtworkError(f"holds {kind} values", where=path.name, hint="save it as RGB, 8 or 16 bits per channel")
        try:
            values = page.asarray()
        except ValueError as error:
            if "imagecodecs" not in str(error):
                raise
            _check_high_byte(path, findings, page)
            return None
        if len(tiff.pages) > 1:
            findings.append(Finding("first-page", "info", f"{len(tiff.pages)} pages in the file; the first is used"))
        return _tiff_picture(page, values, path.name, findings)


def _check_high_byte(path: Path, findings: list[Finding], page: Any) -> None:
    packing = page.compression.name.lower()
    try:
        with Image.open(path, formats=("TIFF",)) as image:
            readable = image.mode in {"RGB", "RGBA", "RGBX", "CMYK"} or image.mode.startswith("I;16")
    except OSError:
        readable = False
    if not readable:
        raise MissingPartError(
            f"16-bit TIFF packed with {packing} needs a decoder that is not installed",
            where=path.name,
            hint='pip install "sepkit[tiff]", or save it unpacked or with 8 bits',
        )
    findings.append(
        Finding(
            "bits-reduced",
            "warn",
            f"only 8 of 16 bits were read: packed with {packing}",
            'pip install "sepkit[tiff]" to round instead, or save it unpacked',
        )
    )


def _tiff_picture(page: Any, values: Any, where: str, findings: list[Finding]) -> Picture:
    photometric = int(page.photometric)
    if values.ndim == 2:
        values = values[..., None]
    elif int(page.planarconfig) == 2:
        values = np.moveaxis(values, 0, -1)
    if photometric == _SEPARATED and getattr(page.tags.get(332), "value", _CMYK_INKS) != _CMYK_INKS:
        raise ArtworkError("its inks are not CMYK", where=where, hint="save it as RGB")
    count = _COLOURS[photometric]
    colour, alpha = _split_alpha(page, values, count, findings)
    if photometric == _MIN_IS_WHITE:
        colour = 65535 - colour
    findings.append(bits_finding())
    image = Image.fromarray(to_8_bit(colour).squeeze(2) if count == 1 else to_8_bit(colour), _MODES[count])
    icc = getattr(page.tags.get(34675), "value", None)
    rgb = profiles.to_srgb(image, icc, where, findings)
    orientation = int(getattr(page.tags.get(274), "value", 1))
    if orientation in range(2, 9):
        findings.append(Finding("rotated", "info", f"turned upright as the file says (orientation {orientation})"))
        rgb, alpha = turn(rgb, orientation), turn(alpha, orientation)
    dpi = _tiff_dpi(page)
    return Picture(rgb, alpha, (dpi[1], dpi[0]) if dpi and orientation >= 5 else dpi, findings)


_MODES = {1: "L", 3: "RGB", 4: "CMYK"}


def _split_alpha(page: Any, values: Any, count: int, findings: list[Finding]) -> tuple[Any, U8]:
    colour = values[..., :count]
    extra = tuple(int(kind) for kind in (page.extrasamples or ()))
    opaque = np.full(values.shape[:2], 255, np.uint8)
    if values.shape[2] <= count:
        return colour, opaque
    if not extra or extra[0] not in {_ASSOCIATED, _UNASSOCIATED}:
        findings.append(extra_channel_finding())
        return colour, opaque
    alpha = values[..., count]
    if extra[0] == _ASSOCIATED:
        divisor = np.maximum(alpha, 1).astype(np.float32)[..., None] / 65535
        colour = np.minimum(np.rint(colour / divisor), 65535).astype(np.uint16)
    return colour, to_8_bit(alpha)


def _tiff_dpi(page: Any) -> tuple[float, float] | None:
    unit = _PER_INCH.get(int(getattr(page.tags.get(296), "value", 2)))
    pairs = [getattr(page.tags.get(code), "value", None) for code in (282, 283)]
    if unit is None or not all(isinstance(pair, tuple) and len(pair) == 2 and pair[1] for pair in pairs):
        return None
    across, down = (float(pair[0]) / float(pair[1]) * unit for pair in pairs if pair)
    return (across, down) if across >= 1.0 and down >= 1.0 else None
