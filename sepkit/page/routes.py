"""Routes of the page: JSON in and out, octets for planes and pictures. Errors are {"error", "hint", "code"}: 4xx."""

from __future__ import annotations

import json
import math
import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response
from starlette.routing import Route

from sepkit.errors import NotFoundError, SepkitError, UsageError
from sepkit.page.compute import WorkError
from sepkit.page.desk import Desk, OpenPrint, StaleError, trouble_of
from sepkit.workshop.page.keep import art_folder
from sepkit.workshop.page.shelf import shelf_names
from sepkit.workshop.print.options import PrintOptions

if TYPE_CHECKING:
    from starlette.requests import Request

STATIC = Path(__file__).parent / "static"
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
MOST_DEPTH = 12
MOST_NUMBER = 1e9
LEAST_MM, MOST_MM = 5.0, 3000.0
STALE = {"error": "this print was changed in another window", "hint": "what you see now is the newer one", "code": 409}


def app_of(desk: Desk) -> Starlette:
    """Return the app of a desk; the guard stands before it."""
    files = {path.name: path for path in sorted(STATIC.iterdir()) if path.suffix in KINDS}

    async def page(_: Request) -> Response:
        return _file(files["index.html"])

    async def static(request: Request) -> Response:
        found = files.get(request.path_params["name"])
        return _said({"error": "no such file", "hint": "", "code": 404}, 404) if found is None else _file(found)

    async def art(request: Request) -> Response:
        data = await request.body()
        return await _answered(
            lambda: {"art": desk.keep_art(str(request.query_params.get("name", "")), data)}, status=201
        )

    routes = [
        Route("/", page),
        Route("/s/{name}", static),
        Route("/api/art", art, methods=["PUT"]),
        Route("/api/desk", _get(lambda _: _desk_json(desk))),
        Route("/api/print", _post(lambda _, body: _added(desk, body), status=202), methods=["POST"]),
        Route("/api/print/{id}", _get(lambda request: _of(desk, request).shown())),
        Route("/api/print/{id}/again", _post(lambda request, _: _opened(desk, _of(desk, request))), methods=["POST"]),
        Route("/api/print/{id}/edit", _post(lambda request, body: _edited(desk, request, body)), methods=["POST"]),
        Route("/api/print/{id}/step", _post(lambda request, body: _stepped(desk, request, body)), methods=["POST"]),
        Route("/api/print/{id}/stop", _post(lambda request, _: _stopped(desk, request)), methods=["POST"]),
        Route("/api/print/{id}/away", _post(lambda request, _: _away(desk, request)), methods=["POST"]),
        Route("/api/print/{id}/export", _post(lambda request, body: _export(desk, request, body)), methods=["POST"]),
        Route("/api/print/{id}/index", _octets(desk, "index", "application/octet-stream", {})),
        Route("/api/print/{id}/art", _octets(desk, "art", "image/png", {})),
        Route("/api/print/{id}/garment", _octets(desk, "garment", "image/png", {"lifted": _places})),
        Route(
            "/api/print/{id}/knocked", _octets(desk, "knocked", "image/png", {"plate": _whole, "dx": _mm, "dy": _mm})
        ),
        Route(
            "/api/print/{id}/film",
            _octets(desk, "film", "image/png", dict.fromkeys(("plate", "x", "y", "w", "h"), _whole)),
        ),
    ]
    return Starlette(routes=routes)


def _desk_json(desk: Desk) -> dict[str, Any]:
    return {
        "folder": desk.folder.name,
        "shelf": asdict(shelf_names()),
        "prints": [one.shown() for one in desk.prints()],
    }


def _of(desk: Desk, request: Request) -> OpenPrint:
    one = desk.find(str(request.path_params["id"]))
    if one.state is None and one.trouble is None and one.compute.step is None and not one.lock.locked():
        _in_background(desk, one)
    return one


def _in_background(desk: Desk, one: OpenPrint) -> None:
    threading.Thread(target=desk.open, args=(one,), daemon=True).start()


def _added(desk: Desk, body: Mapping[str, Any]) -> dict[str, Any]:
    art = _text(body, "art")
    if art != Path(art).name or art.startswith("."):
        raise UsageError("no such art", where="art", hint="drop it again")
    path = art_folder(desk.folder) / art
    if not path.is_file():
        raise NotFoundError("no such art", where="art", hint="drop it again")
    width = _number(body, "width_mm")
    if not LEAST_MM <= width <= MOST_MM:
        raise UsageError("how wide is the print?", where="width", hint=f"{LEAST_MM:g} to {MOST_MM:g} mm")
    background = body.get("background", "print")
    options = PrintOptions(
        path,
        _text(body, "garment"),
        width_mm=width,
        inks=_text(body, "inks", "auto"),
        press=_text(body, "press", "two-head"),
        background="drop" if background == "drop" else "print",
    )
    one = desk.add(options)
    _in_background(desk, one)
    return one.shown()


def _opened(desk: Desk, one: OpenPrint) -> dict[str, Any]:
    one.trouble = None
    desk.open(one)
    return one.shown()


def _edited(desk: Desk, request: Request, body: Mapping[str, Any]) -> dict[str, Any]:
    one, change = _of(desk, request), body.get("change")
    if not isinstance(change, dict):
        raise UsageError("no change", where="edit", hint="say what to do")
    desk.change(one, _rev(body), change)
    return one.shown()


def _stepped(desk: Desk, request: Request, body: Mapping[str, Any]) -> dict[str, Any]:
    one, by = _of(desk, request), body.get("by")
    if by not in (-1, 1) or isinstance(by, bool):
        raise UsageError("undo or redo?", where="by", hint="-1 or 1")
    desk.step(one, _rev(body), by)
    return one.shown()


def _stopped(desk: Desk, request: Request) -> dict[str, Any]:
    one = desk.find(str(request.path_params["id"]))
    one.compute.stop()
    return one.shown()


def _away(desk: Desk, request: Request) -> dict[str, Any]:
    desk.drop(str(request.path_params["id"]))
    return {"prints": [one.shown() for one in desk.prints()]}


def _export(desk: Desk, request: Request, body: Mapping[str, Any]) -> dict[str, Any]:
    one, name = _of(desk, request), _text(body, "folder")
    if name != Path(name.replace("\\", "/")).name or name.startswith(".") or not name.isprintable() or len(name) > 100:
        raise UsageError(
            "that is no name of a folder", where="folder", hint="give a plain name; it is made beside the page"
        )
    files = desk.ask(one, "export", {"folder": str(desk.folder / name)})
    return {"folder": name, "files": files}


def _octets(desk: Desk, call: str, kind: str, takes: Mapping[str, Callable[[str], Any]]) -> Callable[..., Any]:
    async def endpoint(request: Request) -> Response:
        def work() -> bytes:
            given = {key: read(str(request.query_params.get(key, ""))) for key, read in takes.items()}
            data: bytes = desk.ask(_of(desk, request), call, given)
            return data

        return await _answered(work, kind=kind)

    return endpoint


def _get(work: Callable[[Request], Any]) -> Callable[..., Any]:
    async def endpoint(request: Request) -> Response:
        return await _answered(lambda: work(request))

    return endpoint


def _post(work: Callable[[Request, dict[str, Any]], Any], *, status: int = 200) -> Callable[..., Any]:
    async def endpoint(request: Request) -> Response:
        data = await request.body()
        return await _answered(lambda: work(request, _body(data)), status=status)

    return endpoint


async def _answered(work: Callable[[], Any], *, status: int = 200, kind: str = "") -> Response:
    """Do work in a thread and answer with what comes of it."""
    try:
        value = await run_in_threadpool(work)
    except StaleError:
        return _said(STALE, 409)
    except WorkError as error:
        return _said(trouble_of(error), 422)
    except NotFoundError as error:
        return _said(_trouble(error), 404)
    except SepkitError as error:
        return _said(_trouble(error), 422)
    return Response(value, media_type=kind) if kind else _said(value, status)


def _trouble(error: SepkitError) -> dict[str, Any]:
    return {"error": error.text, "hint": error.hint, "code": error.exit_code}


def _said(value: Any, status: int = 200) -> Response:
    return Response(json.dumps(value, ensure_ascii=False), status_code=status, media_type="application/json")


def _file(path: Path) -> Response:
    return Response(path.read_bytes(), media_type=KINDS[path.suffix])


def _body(data: bytes) -> dict[str, Any]:
    """Return a JSON object. Raises UsageError for anything else, and for one nested deeper than any edit is."""
    try:
        value = json.loads(data, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, dict) or _depth(value) > MOST_DEPTH:
        raise UsageError("that is no request of the page", where="request", hint="send one JSON object")
    return value


def _no_constant(word: str) -> float:
    raise ValueError(word)


def _depth(value: Any, at: int = 1) -> int:
    if at > MOST_DEPTH or not isinstance(value, (dict, list)):
        return at
    inner = value.values() if isinstance(value, dict) else value
    return max((_depth(one, at + 1) for one in inner), default=at)


def _text(body: Mapping[str, Any], key: str, default: str = "") -> str:
    value = body.get(key, default)
    if not isinstance(value, str) or len(value) > 300 or not value.strip():
        raise UsageError(f"{key} is missing", where=key, hint="give a short text")
    return value


def _number(body: Mapping[str, Any], key: str) -> float:
    """Return a number; one that is none of any size is not a number here."""
    value = body.get(key)
    sound = isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < MOST_NUMBER
    return float(value) if sound and value is not None else math.nan


def _rev(body: Mapping[str, Any]) -> int:
    rev = body.get("rev")
    if not isinstance(rev, int) or isinstance(rev, bool):
        raise UsageError("rev is missing", where="rev", hint="send the revision that you saw")
    return rev


def _whole(text: str) -> int:
    if not text.isdecimal() or len(text) > 7:
        raise UsageError(f'"{text[:20]}" is no whole number', where="request")
    return int(text)


def _mm(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not abs(value) <= 20:
        raise UsageError(f'"{text[:20]}" is no distance', where="request", hint="give -20 to 20 mm")
    return value


def _places(text: str) -> list[int]:
    return sorted({_whole(word) for word in text.split(",") if word})
