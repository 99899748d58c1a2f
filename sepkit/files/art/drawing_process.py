"""What runs in the drawing process (aside.py starts it): renders SVG, and opens and renders a PDF page.

In: messages on standard input. Out: messages on standard output; ``refused`` and ``hint`` when the page is no good.
It works within a bound of memory, and draws SVG without text after giving up the right to open files or sockets.
Sizes in pixels and pt; bytes are PNG for SVG, RGBA rows for PDF. It starts often: nothing heavy is imported
at module level.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from typing import Any

from sepkit.files.art.aside import COUNTED, receive, send
from sepkit.files.art.pdf_facts import has_no_pages, look_inside

Answer = tuple[dict[str, Any], bytes]

PX_PER_INCH = 96.0


def serve() -> None:
    """Answer requests until the other side goes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which ends this process
    out = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    page = PdfPage()
    work = {"svg": draw_svg, "open": page.open, "page": page.draw, "inks": page.inks, "plate": page.plate}
    while (message := receive(sys.stdin.buffer)) is not None:
        request, data = message
        _bound_memory(int(request["memory"]))
        _bound_time(float(request["seconds"]))
        try:
            answer = work[request["do"]](request, data)
        except Exception as error:  # renderers raise anything
            reason = " ".join(str(error).split())[:200] or type(error).__name__
            answer = {"refused": f"cannot be drawn: {reason}", "hint": "export it again"}, b""
        except BaseException:  # what the renderer itself did not expect; its words tell nobody anything
            answer = {"refused": "cannot be drawn: the renderer failed on it"}, b""
        _bound_time(0.0)
        send(out, *answer)


def draw_svg(request: dict[str, Any], data: bytes) -> Answer:
    """Return an SVG as PNG; the root says how large."""
    import resvg_py

    if not request["fonts"]:
        _open_nothing_more()
    png = resvg_py.svg_to_bytes(
        svg_string=data.decode(), dpi=PX_PER_INCH, resources_dir=".", skip_system_fonts=not request["fonts"]
    )
    return {}, bytes(png)


def _bound_time(seconds: float) -> None:
    """End this process after so much time of the processor, where the system counts it; 0: no more."""
    if COUNTED is not None:
        signal.setitimer(signal.ITIMER_PROF, seconds)


class PdfPage:
    """The first page of a PDF."""

    def __init__(self) -> None:
        self.page: Any = None
        self.spots: Any = None
        self._drawn: tuple[str, Any] = ("", None)

    def open(self, _request: dict[str, Any], data: bytes) -> Answer:
        """Return what the page says about itself."""
        import pypdfium2 as pdfium

        again = "export it again"
        try:
            document = pdfium.PdfDocument(data)
            count = len(document)
            self.page = document[0] if count else None
        except pdfium.PdfiumError as error:
            if "password" in str(error).lower():
                return {"refused": "is locked with a password", "hint": "save it without one"}, b""
            text = "the PDF has no pages" if has_no_pages(data) else "the PDF is broken or cut short"
            return {"refused": text, "hint": again}, b""
        if self.page is None:
            return {"refused": "the PDF has no pages", "hint": again}, b""
        width, height = self.page.get_size()
        if not (width > 0 and height > 0):
            return {"refused": "its page has no size", "hint": again}, b""
        try:
            pictures = self._pictures()
        except pdfium.PdfiumError:
            return {"refused": "the PDF is broken or cut short", "hint": again}, b""
        unit, spaces = look_inside(data)
        facts = {"pages": count, "width_pt": width, "height_pt": height, "unit": unit, "pictures": pictures}
        return {**facts, "spaces": sorted(spaces)}, b""

    def draw(self, request: dict[str, Any], _data: bytes) -> Answer:
        """Return the page as RGBA rows on a clear ground."""
        bitmap = self.page.render(
            scale=float(request["scale"]), fill_color=(0, 0, 0, 0), rev_byteorder=True, draw_annots=False
        )
        facts = {"width": bitmap.width, "height": bitmap.height, "stride": bitmap.stride, "channels": bitmap.n_channels}
        return facts, bytes(bitmap.buffer)

    def inks(self, _request: dict[str, Any], data: bytes) -> Answer:
        """Return the inks that the page paints with, by name, and the colour that stands in for each."""
        from sepkit.files.art.spots.page import SpotPage
        from sepkit.files.art.spots.spaces import OTHER, UnreadableError

        try:
            self.spots = SpotPage(data)
            names = self.spots.inks()
            return {"inks": [[name, [0, 0, 0] if name == OTHER else self._swatch(name)] for name in names]}, b""
        except UnreadableError as error:
            return {"unreadable": str(error)}, b""
        except (MemoryError, RecursionError):
            return {"unreadable": "its forms nest too deep"}, b""
        except Exception:  # a parser of strangers' files raises anything
            return {"unreadable": "its drawing cannot be read"}, b""

    def plate(self, request: dict[str, Any], _data: bytes) -> Answer:
        """Return one ink of the page as rows of coverage."""
        import pypdfium2 as pdfium

        name = str(request["ink"])
        if self._drawn[1] is None or self._drawn[0] != name:
            self._drawn = name, pdfium.PdfDocument(self.spots.in_greys(name))[0]
        bitmap = self._drawn[1].render(scale=float(request["scale"]), rev_byteorder=True, draw_annots=False)
        rows = memoryview(bitmap.buffer).cast("B")
        step, wide = bitmap.n_channels, bitmap.width * bitmap.n_channels
        invert = bytes(range(255, -1, -1))
        planes = (
            bytes(rows[y * bitmap.stride : y * bitmap.stride + wide : step]).translate(invert)
            for y in range(bitmap.height)
        )
        return {"width": bitmap.width, "height": bitmap.height}, b"".join(planes)

    def _swatch(self, name: str) -> list[int]:
        import pypdfium2 as pdfium

        page = pdfium.PdfDocument(self.spots.swatch(name))[0]
        bitmap = page.render(scale=1, rev_byteorder=True)
        return list(bytes(bitmap.buffer)[:3])

    def _pictures(self) -> list[tuple[int, int, float]]:
        """Return the pixels across and down of each picture on the page, and its width in pt."""
        import pypdfium2 as pdfium

        found = []
        for picture in self.page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE]):
            left, _, right, _ = picture.get_bounds()
            found.append((*picture.get_px_size(), right - left))
        return found


def _bound_memory(most: int) -> None:
    """Let the system refuse memory beyond ``most`` bytes, where it can (not on Windows)."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))


def _open_nothing_more() -> None:
    """Give up opening files and sockets for good, where the system can: the next descriptor is over the limit."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        probe = os.open(os.devnull, os.O_RDONLY)
        os.close(probe)
        resource.setrlimit(resource.RLIMIT_NOFILE, (probe, probe))
