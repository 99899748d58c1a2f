"""A small streaming PDF writer: objects go to the file as they come, the cross-reference table last.

In: a binary file open for writing. Sources: ISO 32000-1:2008, 7.5 (file structure), 7.3 (objects).
Numbers are written in at most 6 decimals; strings as PDFDocEncoding or UTF-16.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import BinaryIO


class PdfObjects:
    """Writes numbered objects; ``reserve`` gives a number before its object is known."""

    def __init__(self, file: BinaryIO, *, version: str = "1.6") -> None:
        self._file = file
        self._at = 0
        self._offsets: dict[int, int] = {}
        self._next = 1
        self.write(f"%PDF-{version}\n%".encode() + b"\xe2\xe3\xcf\xd3\n")

    def write(self, data: bytes) -> None:
        """Write raw bytes."""
        self._file.write(data)
        self._at += len(data)

    def reserve(self) -> int:
        """Return a free object number."""
        self._next += 1
        return self._next - 1

    def put(self, body: str, *, number: int | None = None) -> int:
        """Write one object without a stream and return its number."""
        number = self.reserve() if number is None else number
        self._offsets[number] = self._at
        self.write(f"{number} 0 obj\n{body}\nendobj\n".encode("latin-1"))
        return number

    def stream(self, entries: str, chunks: Iterable[bytes], *, number: int | None = None) -> tuple[int, int, int]:
        """Write a stream of unknown length; return its number, and where its bytes start and how many they are."""
        number = self.reserve() if number is None else number
        length = self.reserve()
        self._offsets[number] = self._at
        self.write(f"{number} 0 obj\n<< {entries} /Length {length} 0 R >>\nstream\n".encode("latin-1"))
        start = self._at
        for chunk in chunks:
            self.write(chunk)
        size = self._at - start
        self.write(b"\nendstream\nendobj\n")
        self.put(str(size), number=length)
        return number, start, size

    def finish(self, *, root: int, info: int | None = None) -> None:
        """Write the cross-reference table and the trailer."""
        start, count = self._at, self._next
        missing = [n for n in range(1, count) if n not in self._offsets]
        if missing:
            raise ValueError(f"objects {missing} were never written")
        lines = [f"xref\n0 {count}\n0000000000 65535 f \n"]
        lines += [f"{self._offsets[n]:010d} 00000 n \n" for n in range(1, count)]
        extra = f" /Info {info} 0 R" if info is not None else ""
        lines.append(f"trailer\n<< /Size {count} /Root {root} 0 R{extra} >>\nstartxref\n{start}\n%%EOF\n")
        self.write("".join(lines).encode("latin-1"))


def number(value: float) -> str:
    """Return a PDF number of at most 6 decimals.

    >>> number(0.1), number(12.0), number(-0.0000001)
    ('0.1', '12', '0')
    """
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def text_string(text: str) -> str:
    """Return a PDF text string: plain when ASCII, else UTF-16 in hexadecimal (ISO 32000-1, 7.9.2.2)."""
    if text.isascii() and text.isprintable():
        escaped = text.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
        return f"({escaped})"
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"


def name(text: str) -> str:
    """Return a PDF name; bytes outside the plain ones as #xx (ISO 32000-1, 7.3.5), in UTF-8.

    >>> name("Red (2)")
    '/Red#20#282#29'
    """
    safe = b"!$&'*+,-.:;=?@^_`|~\"\\"
    return "/" + "".join(chr(b) if (chr(b).isalnum() and b < 128) or b in safe else f"#{b:02X}" for b in text.encode())
