"""Routes of the benches beside the table: the drop, inks, photographs, and pictures of what was made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from sepkit.errors import NotFoundError
from sepkit.page.answers import get, octets, post, upload
from sepkit.page.desk import BENCHES, Desk
from sepkit.page.ink_calls import WHAT
from sepkit.workshop.page.keep import photo_kept
from sepkit.workshop.page.made import made_folders, picture_of

if TYPE_CHECKING:
    from starlette.requests import Request

PHOTO = {"inspect": "inspect", "guide": "guide", "wedge-film": "wedge_film", "wedge-read": "wedge_read"}
"""By the last part of the address: the call of the photo bench."""


def bench_routes(desk: Desk) -> list[Route]:
    """Return the routes."""

    def photo(request: Request, body: dict[str, Any]) -> Any:
        return desk.ask_bench("photo", _one_of(PHOTO, request), body)

    def ink(request: Request, body: dict[str, Any]) -> Any:
        return desk.ask_bench("ink", _one_of({what: what for what in WHAT}, request), body)

    def stop(request: Request, _: dict[str, Any]) -> dict[str, Any]:
        name = _one_of({bench: bench for bench in BENCHES}, request)
        desk.benches[name].stop()
        return {"stopped": name}

    def dropped(name: str, data: bytes) -> dict[str, Any]:
        return {"photo": photo_kept(desk.folder, name, data).name}

    def picture(request: Request) -> bytes:
        query = request.query_params
        return picture_of(desk.folder, str(query.get("folder", "")), str(query.get("name", "")))

    return [
        Route("/api/drop", get(lambda _: desk.drop_shown())),
        Route("/api/drop/set", post(lambda _, body: desk.set_drop(body)), methods=["POST"]),
        Route("/api/drop/check", post(lambda _, __: desk.check_drop()), methods=["POST"]),
        Route("/api/drop/plan", post(lambda _, __: desk.plan_drop()), methods=["POST"]),
        Route("/api/drop/make", post(lambda _, body: desk.make_drop(body)), methods=["POST"]),
        Route("/api/ink/{what}", post(ink), methods=["POST"]),
        Route("/api/photo", upload(dropped), methods=["PUT"]),
        Route("/api/photo/{what}", post(photo), methods=["POST"]),
        Route("/api/made", get(lambda _: {"folders": [_row(one) for one in made_folders(desk.folder)]})),
        Route("/api/made/picture", octets(picture, "image/png")),
        Route("/api/stop/{what}", post(stop), methods=["POST"]),
    ]


def _row(one: Any) -> dict[str, Any]:
    return {"name": one.name, "kind": one.kind, "title": one.title, "pictures": list(one.pictures)}


def _one_of(known: dict[str, str], request: Request) -> str:
    what = str(request.path_params["what"])
    if what not in known:
        raise NotFoundError("there is no such thing to ask", where="request", hint=", ".join(known))
    return known[what]
