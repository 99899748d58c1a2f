"""The guard before every request: this machine, this page and its token only; and the policy that each answer carries.

A page of another site must neither read nor change anything, nor may a name that was bent to this address (DNS
rebinding). Walls: the Host header is ours and comes once; Origin, where a browser sends it, is ours; Sec-Fetch-Site is
none or same-origin; /api asks a token in a header that no form can send. There is no cookie: cookies of this address go
to every port of it (RFC 6265, section 8.5). Sources: OWASP Cross-Site Request Forgery Prevention Cheat Sheet, custom
request headers; OWASP File Upload Cheat Sheet, size limits.
"""

from __future__ import annotations

import hmac
import json
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

TOKEN_HEADER = "x-sepkit"
MOST_ART_BYTES = 300_000_000
MOST_JSON_BYTES = 1_000_000
WRITES = ("POST", "PUT")
UPLOADS = ("/api/art", "/api/photo")
POLICY = (
    (
        b"content-security-policy",
        (
            b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
            b"base-uri 'none'; form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'"
        ),
    ),
    (b"x-frame-options", b"DENY"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


class Guard:
    """Wraps an app. ``hosts`` are the only values of Host that pass."""

    def __init__(self, app: App, *, hosts: frozenset[str], token: str) -> None:
        self._app, self._hosts, self._token = app, hosts, token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a refusal, or pass the request on."""
        if scope["type"] != "http":
            return
        refused = self._refusal(scope)
        if refused is None:
            await self._app(scope, receive, _with_policy(send))
        else:
            await _refuse(_with_policy(send), *refused)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = _headers(scope)
        method, path = scope["method"], scope["path"]
        host = headers.get("host", ())
        if len(host) != 1 or host[0] not in self._hosts:
            return 421, "not the address of this page"
        if method not in ("GET", *WRITES):
            return 405, "this is not asked here"
        if any(site not in ("none", "same-origin") for site in headers.get("sec-fetch-site", ())):
            return 403, "another page asked"
        origins = headers.get("origin", ())
        if any(origin not in {f"http://{name}" for name in self._hosts} for origin in origins):
            return 403, "another page asked"
        if path.startswith("/api"):
            return self._api_refusal(method, path, headers, origins)
        return (405, "this is not asked here") if method != "GET" else None

    def _api_refusal(
        self, method: str, path: str, headers: Mapping[str, tuple[str, ...]], origins: tuple[str, ...]
    ) -> tuple[int, str] | None:
        token = headers.get(TOKEN_HEADER, ())
        if len(token) != 1 or not hmac.compare_digest(token[0].encode(), self._token.encode()):
            return 401, "open the address that sepkit printed"
        if method not in WRITES:
            return None
        if len(origins) != 1:
            return 403, "another page asked"
        length = headers.get("content-length", ())
        if len(length) != 1 or not length[0].isdecimal():
            return 411, "say how long it is"
        most = MOST_ART_BYTES if path in UPLOADS else MOST_JSON_BYTES
        return (413, f"more than {most // 1_000_000} MB") if int(length[0]) > most else None


def _headers(scope: Scope) -> dict[str, tuple[str, ...]]:
    out: dict[str, tuple[str, ...]] = {}
    for name, value in scope["headers"]:
        key = name.decode("latin-1").lower()
        out[key] = (*out.get(key, ()), value.decode("latin-1"))
    return out


def _with_policy(send: Send) -> Send:
    async def policed(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *POLICY]}
        await send(message)

    return policed


async def _refuse(send: Send, status: int, text: str) -> None:
    body = json.dumps({"error": text, "hint": "", "code": status}).encode()
    head = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": [*head, (b"connection", b"close")]})
    await send({"type": "http.response.body", "body": body})
