"""The page's own files, read once; its modules also as one (page.js)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sepkit.page.bundle import bundled

STATIC = Path(__file__).parent / "static"
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file, and what kind it is."""

    kind: str
    data: bytes


def static_files() -> Mapping[str, StaticFile]:
    """Return the page's files by name, and page.js, all of its modules."""
    paths = [path for path in sorted(STATIC.iterdir()) if path.suffix in KINDS]
    modules = {path.stem: path.read_text("utf-8") for path in paths if path.suffix == ".js"}
    files = {path.name: StaticFile(KINDS[path.suffix], path.read_bytes()) for path in paths}
    return {**files, "page.js": StaticFile(KINDS[".js"], bundled(modules, "app").encode())}
