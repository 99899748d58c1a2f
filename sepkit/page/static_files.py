"""The page's own files, read once: packed for a browser that takes them so, its modules also as one (page.js)."""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.responses import Response

from sepkit.page.bundle import bundled

if TYPE_CHECKING:
    from starlette.requests import Request

STATIC = Path(__file__).parent / "static"
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file as it is, and packed (RFC 1952)."""

    kind: str
    plain: bytes
    packed: bytes

    @staticmethod
    def of(suffix: str, data: bytes) -> StaticFile:
        """Return a file of a kind."""
        return StaticFile(KINDS[suffix], data, gzip.compress(data, mtime=0))

    def answer(self, request: Request) -> Response:
        """Return it as the browser takes it."""
        takes = {word.partition(";")[0].strip() for word in request.headers.get("accept-encoding", "").split(",")}
        if "gzip" in takes:
            return Response(self.packed, media_type=self.kind, headers={"Content-Encoding": "gzip"})
        return Response(self.plain, media_type=self.kind)


def static_files() -> Mapping[str, StaticFile]:
    """Return the page's files by name, and page.js, all of its modules."""
    paths = [path for path in sorted(STATIC.iterdir()) if path.suffix in KINDS]
    modules = {path.stem: path.read_text("utf-8") for path in paths if path.suffix == ".js"}
    files = {path.name: StaticFile.of(path.suffix, path.read_bytes()) for path in paths}
    return {**files, "page.js": StaticFile.of(".js", bundled(modules, "app").encode())}
