"""Makes small artwork files for the tests: pixels whose right answer is known."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

SVG_OPEN = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def corners(width: int = 40, height: int = 24) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """White with a red top left, green top right and blue bottom left quarter: tells any turn or mirror image."""
    rgb = np.full((height, width, 3), 255, np.uint8)
    rgb[: height // 2, : width // 2] = (255, 0, 0)
    rgb[: height // 2, width // 2 :] = (0, 255, 0)
    rgb[height // 2 :, : width // 2] = (0, 0, 255)
    return rgb


def png_bytes(values: Any, colour_type: int, *, extra: bytes = b"", filtered: bool = True) -> bytes:
    """A PNG of (h, w, n) big-endian 16-bit values, written chunk by chunk with the Sub filter."""
    height, width = values.shape[:2]
    lines = bytearray()
    step = 2 * values.shape[2]
    for row in values.astype(">u2"):
        line = np.frombuffer(row.tobytes(), np.uint8)
        before = np.concatenate([np.zeros(step, np.uint8), line[:-step]])
        lines += bytes([1]) + (line - before).tobytes() if filtered else bytes([0]) + line.tobytes()
    head = struct.pack(">IIBBBBB", width, height, 16, colour_type, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(bytes(lines)))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + extra + body + chunk(b"IEND", b"")


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def declared_png(width: int, height: int) -> bytes:
    """A PNG that declares a size and holds almost nothing."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 10)) + chunk(b"IEND", b"")


def as_bytes(image: Image.Image, kind: str, **options: Any) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def svg(body: str, *, size: str = 'width="40mm" height="20mm" viewBox="0 0 40 20"') -> str:
    return f"{SVG_OPEN} {size}>{body}</svg>"


def pdf_file(path: Path, content: bytes, *, size: tuple[float, float] = (144, 72), pages: int = 1, **save: Any) -> Path:
    """A PDF whose pages draw ``content``; /G sets half opacity, /Spot is a Separation, /Pic an image when given."""
    import pikepdf

    images = save.pop("images", {})
    extra = save.pop("extra", {})
    pdf = pikepdf.new()
    for _ in range(pages):
        pdf.add_blank_page(page_size=size)
    tint = pdf.make_stream(b"{0 exch dup 0 exch 0}")
    tint.FunctionType, tint.Domain, tint.Range = 4, [0, 1], [0, 1, 0, 1, 0, 1, 0, 1]
    for page in pdf.pages:
        page.Resources = pikepdf.Dictionary(
            ExtGState=pikepdf.Dictionary(G=pikepdf.Dictionary(ca=0.5)),
            ColorSpace=pikepdf.Dictionary(
                Spot=pikepdf.Array([pikepdf.Name.Separation, pikepdf.Name("/Teal"), pikepdf.Name.DeviceCMYK, tint])
            )
            if b"/Spot" in content
            else pikepdf.Dictionary(),
            XObject=pikepdf.Dictionary({f"/{name}": make(pdf) for name, make in images.items()}),
        )
        page.Contents = pdf.make_stream(content)
        for key, value in extra.items():
            page[key] = value
    pdf.save(path, **save)
    return path


def write_tiff(file: Any, values: Any, **options: Any) -> None:
    import tifffile

    tifffile.imwrite(file, values, **options)
