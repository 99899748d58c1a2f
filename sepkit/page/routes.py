"""Routes of the page: the desk, its prints, what is asked of each. JSON in and out, octets for planes and pictures."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import Response
from starlette.routing import Route

from sepkit.errors import UsageError
from sepkit.model import KIND_RULES
from sepkit.page import asked
from sepkit.page.answers import get, millimetres, octets, post, said, upload, whole
from sepkit.page.bench_routes import bench_routes
from sepkit.page.desk import Desk, OpenPrint
from sepkit.page.static_files import static_files
from sepkit.workshop.page.shelf import check_names, shelf_names
from sepkit.workshop.print.options import PrintOptions

if TYPE_CHECKING:
    from starlette.requests import Request

    from sepkit.model import KindRule

LEAST_MM, MOST_MM = 5.0, 3000.0
PACKED = 6
"""Of the page's own files, level of deflate: 9 takes twice the time for nothing."""


def app_of(desk: Desk) -> Starlette:
    """Return the app of a desk; the guard stands before it."""
    files = static_files()

    async def static(request: Request) -> Response:
        found = files.get(request.path_params.get("name", "index.html"))
        none = {"error": "no such file", "hint": "", "code": 404}
        return said(none, 404) if found is None else Response(found.data, media_type=found.kind)

    own = [
        Route(at, static, middleware=[Middleware(GZipMiddleware, compresslevel=PACKED)]) for at in ("/", "/s/{name}")
    ]
    return Starlette(routes=[*own, *_print_routes(desk), *bench_routes(desk)])


def _print_routes(desk: Desk) -> list[Route]:
    def of(work: Callable[[OpenPrint], Any]) -> Callable[..., Any]:
        return get(lambda request: work(_of(desk, request)))

    def to(work: Callable[[OpenPrint, dict[str, Any]], None]) -> Callable[..., Any]:
        def done(request: Request, body: dict[str, Any]) -> dict[str, Any]:
            one = _of(desk, request)
            work(one, body)
            return one.shown()

        return post(done)

    film = dict.fromkeys(("plate", "x", "y", "w", "h"), whole)
    window: dict[str, Callable[[str], Any]] = {
        **dict.fromkeys(("x", "y", "w", "h"), whole),
        **dict.fromkeys(("trap", "choke"), lambda text: abs(millimetres(text)) if text else None),
    }
    planes, png, at = "application/octet-stream", "image/png", "/api/print/{id}"
    return [
        Route("/api/art", upload(lambda name, data: {"art": desk.keep_art(name, data)}), methods=["PUT"]),
        Route("/api/desk", get(lambda _: _desk_json(desk))),
        Route("/api/pulse", get(lambda _: desk.pulse())),
        Route("/api/print", post(lambda _, body: _added(desk, body), status=202), methods=["POST"]),
        Route(at, of(lambda one: one.shown())),
        Route(f"{at}/again", to(lambda one, _: desk.open_again(one)), methods=["POST"]),
        Route(f"{at}/edit", to(lambda one, body: _edit(desk, one, body)), methods=["POST"]),
        Route(f"{at}/step", to(lambda one, body: _step(desk, one, body)), methods=["POST"]),
        Route(f"{at}/stop", post(lambda request, _: _stopped(desk, request)), methods=["POST"]),
        Route(f"{at}/beside", post(lambda request, body: _beside(desk, request, body), status=202), methods=["POST"]),
        Route(f"{at}/away", post(lambda request, _: _away(desk, request)), methods=["POST"]),
        Route(f"{at}/export", post(lambda request, body: _export(desk, request, body)), methods=["POST"]),
        Route(f"{at}/worst", of(lambda one: desk.ask(one, "worst"))),
        Route(f"{at}/lifted", get(lambda request: _lifted(desk, request))),
        Route(f"{at}/pieces", _octets(desk, "pieces", planes, {})),
        Route(f"{at}/bare", _octets(desk, "bare", planes, {})),
        Route(f"{at}/plane", _octets(desk, "plane", planes, {"plate": whole})),
        Route(f"{at}/index", _octets(desk, "index", planes, {})),
        Route(f"{at}/art", _octets(desk, "art", png, {})),
        Route(f"{at}/window", _octets(desk, "window", planes, window)),
        Route(f"{at}/film", _octets(desk, "film", png, film)),
    ]


def _desk_json(desk: Desk) -> dict[str, Any]:
    return {
        "folder": desk.folder.name,
        "art": desk.art_here(),
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
    path = desk.art_named(asked.text(body, "art"))
    options = PrintOptions(
        path,
        asked.text(body, "garment"),
        width_mm=asked.number(body, "width_mm", least=LEAST_MM, most=MOST_MM),
        press=asked.text(body, "press", "") or None,
        background="drop" if body.get("background") == "drop" else "print",
        one_ink=asked.text(body, "one_ink", ""),
        placement=asked.text(body, "placement", "") or None,
    )
    return _laid(desk, _weighed(options, body))


def _beside(desk: Desk, request: Request, body: Mapping[str, Any]) -> dict[str, Any]:
    """Lay the art of a print again, beside it, with other inks, screens or kind; one of a job for its press too."""
    one = desk.find(str(request.path_params["id"]))
    return _laid(desk, _weighed(one.options, body), beside=one)


def _weighed(options: PrintOptions, body: Mapping[str, Any]) -> PrintOptions:
    """Return options with the inks, screens and kind that are asked for, by which a piece is laid."""
    return replace(
        options,
        inks=asked.text(body, "inks", "auto"),
        screens=asked.whole(body, "screens", 0, least=0, most=12) or None,
        kind=_kind(asked.text(body, "kind", "auto")),
    )


def _laid(desk: Desk, options: PrintOptions, *, beside: OpenPrint | None = None) -> dict[str, Any]:
    job = None if beside is None else beside.job
    there = next((one for one in desk.prints() if one.options == options and one.job == job), None)
    if there is not None:  # laid again as it lies: that one is shown
        return there.shown()
    check_names(options)
    one = desk.add(options, beside=beside)
    _in_background(desk, one)
    return one.shown()


def _kind(word: str) -> KindRule:
    found = next((rule for rule in KIND_RULES if rule == word), None)
    if found is None:
        raise UsageError(f'"{word[:20]}" is no kind of art', where="kind", hint=", ".join(KIND_RULES))
    return found


def _edit(desk: Desk, one: OpenPrint, body: Mapping[str, Any]) -> None:
    change = body.get("change")
    if not isinstance(change, dict):
        raise UsageError("no change", where="edit", hint="say what to do")
    desk.change(one, _rev(body), change)


def _step(desk: Desk, one: OpenPrint, body: Mapping[str, Any]) -> None:
    by = body.get("by")
    if by not in (-1, 1) or isinstance(by, bool):
        raise UsageError("undo or redo?", where="by", hint="-1 or 1")
    desk.step(one, _rev(body), int(by))


def _stopped(desk: Desk, request: Request) -> dict[str, Any]:
    one = desk.find(str(request.path_params["id"]))
    one.compute.stop()
    return one.shown()


def _away(desk: Desk, request: Request) -> dict[str, Any]:
    desk.drop(str(request.path_params["id"]))
    return {"prints": [one.shown() for one in desk.prints()]}


def _export(desk: Desk, request: Request, body: Mapping[str, Any]) -> dict[str, Any]:
    one, name = _of(desk, request), asked.plain_name(body, "folder")
    one.check_art()
    files = desk.ask(one, "export", {"folder": str(desk.folder / name)})
    return {"folder": name, "files": files}


def _lifted(desk: Desk, request: Request) -> Any:
    return desk.ask(_of(desk, request), "lifted", {"lifted": _places(str(request.query_params.get("lifted", "")))})


def _octets(desk: Desk, call: str, kind: str, takes: Mapping[str, Callable[[str], Any]]) -> Callable[..., Any]:
    def work(request: Request) -> bytes:
        given = {key: read(str(request.query_params.get(key, ""))) for key, read in takes.items()}
        data: bytes = desk.ask(_of(desk, request), call, given)
        return data

    return octets(work, kind)


def _rev(body: Mapping[str, Any]) -> int:
    rev = body.get("rev")
    if not isinstance(rev, int) or isinstance(rev, bool):
        raise UsageError("rev is missing", where="rev", hint="send the revision that you saw")
    return rev


def _places(text: str) -> list[int]:
    return sorted({whole(word) for word in text.split(",") if word})
