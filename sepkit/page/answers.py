"""How the page is answered: work in a thread, JSON or octets out, and errors as {"error", "hint", "code"}: 4xx."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from sepkit.errors import NotFoundError, SepkitError, UsageError
from sepkit.page.bench_process import one_line
from sepkit.page.compute import WorkError
from sepkit.page.desk import StaleError, trouble_of

if TYPE_CHECKING:
    from starlette.requests import Request

MOST_DEPTH = 12
STALE = {"error": "this print was changed in another window", "hint": "what you see now is the newer one", "code": 409}


def get(work: Callable[[Request], Any]) -> Callable[..., Any]:
    """Return an endpoint that answers with JSON."""

    async def endpoint(request: Request) -> Response:
        return await answered(lambda: work(request))

    return endpoint


def post(work: Callable[[Request, dict[str, Any]], Any], *, status: int = 200) -> Callable[..., Any]:
    """Return an endpoint that is given a JSON object and answers with JSON."""

    async def endpoint(request: Request) -> Response:
        data = await request.body()
        return await answered(lambda: work(request, _body(data)), status=status)

    return endpoint


def upload(work: Callable[[str, bytes], Any]) -> Callable[..., Any]:
    """Return an endpoint that is given a file under a name."""

    async def endpoint(request: Request) -> Response:
        data = await request.body()
        return await answered(lambda: work(str(request.query_params.get("name", "")), data), status=201)

    return endpoint


def octets(work: Callable[[Request], bytes], kind: str) -> Callable[..., Any]:
    """Return an endpoint that answers with octets of a kind."""

    async def endpoint(request: Request) -> Response:
        return await answered(lambda: work(request), kind=kind)

    return endpoint


async def answered(work: Callable[[], Any], *, status: int = 200, kind: str = "") -> Response:
    """Do work in a thread and answer with what comes of it."""
    try:
        value = await run_in_threadpool(work)
    except StaleError:
        return said(STALE, 409)
    except WorkError as error:
        return said(trouble_of(error), 422)
    except NotFoundError as error:
        return said(_trouble(error), 404)
    except SepkitError as error:
        return said(_trouble(error), 422)
    return Response(value, media_type=kind) if kind else said(value, status)


def said(value: Any, status: int = 200) -> Response:
    """Return JSON."""
    return Response(json.dumps(value, ensure_ascii=False), status_code=status, media_type="application/json")


def whole(text: str) -> int:
    """Return a whole number of a query. Raises UsageError."""
    if not (text.isascii() and text.isdecimal()) or len(text) > 7:
        raise UsageError(f'"{text[:20]}" is no whole number', where="request")
    return int(text)


def millimetres(text: str) -> float:
    """Return a distance of a query in mm. Raises UsageError."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not abs(value) <= 20:
        raise UsageError(f'"{text[:20]}" is no distance', where="request", hint="give -20 to 20 mm")
    return value


def _trouble(error: SepkitError) -> dict[str, Any]:
    head = f"{error.where}: " if error.where else ""
    return {"error": one_line(f"{head}{error.text}"), "hint": one_line(error.hint), "code": error.exit_code}


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
