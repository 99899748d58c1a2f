"""Broken requests by the thousand, and broken art through the upload: the page refuses in words, and answers on.

Every request is sound but for one thing, which a seeded generator breaks: the body, a key, the query, the address, the
length, half of it sent. Wrong is any answer but 4xx, an answer without words, anything written outside the working
folder, a print that changed, a page that answers no more.
"""

from __future__ import annotations

import json
import random
import socket
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from tests.benchmarks._fuzz_worker import DOCUMENTED, MOST_LINE, kind_of
from tests.benchmarks._hostile import WORDS
from tests.benchmarks._mutate import broken
from tests.benchmarks._page_flows import Given, flag
from tests.benchmarks._readers import ART
from tests.benchmarks._seeds import seeds as fuzz_seeds
from tests.helpers.page_server import Answer, Server, serving

NOT_TEXT: tuple[Any, ...] = (
    None,
    True,
    3,
    -1,
    1e308,
    10**40,
    [],
    {},
    ["a"],
    {"a": 1},
    "x" * 5000,
    "a\nb",
    "\0",
    "\x1b[2J",
)
NOT_NUMBER: tuple[Any, ...] = (
    True,
    [],
    {},
    "",
    "much",
    "1e999",
    "nan",
    -1,
    0,
    1e308,
    10**400,
    "9" * 200,
    [280],
    "0x10",
)
NOT_LIST: tuple[Any, ...] = (None, 3, "a", {}, {"a": []}, True, [3], [None], [[]], [{}] * 500)
NOT_NAME: tuple[Any, ...] = (
    *NOT_TEXT,
    "",
    "../x",
    "/etc/passwd",
    "a/b",
    "a\\b",
    "..",
    ".",
    ".hidden",
    "x" * 101,
    "con\n",
)
NOT_CHANGE: tuple[Any, ...] = (
    None,
    [],
    "ink",
    3,
    {},
    {"do": None},
    {"do": "fly"},
    {"do": ["ink"]},
    {"do": "ink"},
    {"do": "ink", "of": 3, "set": {"coats": 1}},
    {"do": "ink", "of": "#zzzzzz", "set": {"coats": 1}},
    {"do": "ink", "of": "#c82828", "set": {"coats": -3}},
    {"do": "ink", "of": "#c82828", "set": {"coats": 10**9}},
    {"do": "ink", "of": "#c82828", "set": {"ink": "../../etc/passwd"}},
    {"do": "ink", "of": "#c82828", "set": {"ink": {"a": 1}}},
    {"do": "ink", "of": "#c82828", "set": {"base": "perhaps"}},
    {"do": "ink", "of": "#c82828", "set": {"mesh": "none"}},
    {"do": "ink", "of": "#c82828", "set": {"name": "x" * 5000}},
    {"do": "ink", "of": "#c82828", "set": []},
    {"do": "with", "of": "#c82828"},
    {"do": "with", "of": "#c82828", "to": "#c82828"},
    {"do": "with", "of": "#c82828", "to": []},
    {"do": "order", "order": "#c82828"},
    {"do": "order", "order": [3]},
    {"do": "order", "order": ["x" * 5000]},
    {"do": "order", "order": ["#c82828"] * 20},
    {"do": "part", "of": "#c82828"},
    {"do": "part", "of": "#c82828", "at_mm": ["a", "b"]},
    {"do": "part", "of": "#c82828", "at_mm": [1e308, 1]},
    {"do": "part", "of": "#c82828", "at_mm": [1, 2, 3]},
    {"do": "trap", "mm": "wide"},
    {"do": "trap", "mm": -1},
    {"do": "trap", "mm": 1e300},
    {"do": "choke", "mm": [1]},
    {"do": "choke", "mm": 10**40},
    {"do": "screens", "most": -5},
    {"do": "screens", "most": 10**40},
    {"do": "screens", "most": "many"},
    {"do": "screens", "most": [2]},
)
NOT_JSON = (
    b"",
    b"{",
    b"[]",
    b"3",
    b"null",
    b'"a"',
    b"\xff\xfe",
    b"[" * 5000,
    b'{"a":' * 5000,
    b'{"a": NaN}',
    b'{"a": Infinity}',
    b'{"a": "\\ud800"}' + b"{",
    b"{" + b'"a": [' * 40 + b"]" * 40 + b"}",
    b"\0" * 100,
    b"a=b&c=d",
    b"<script>alert(1)</script>",
)


@dataclass(frozen=True, slots=True)
class Route:
    """A route that takes an object: what is sound, and what each of its keys may not be."""

    path: str
    sound: dict[str, Any]
    wrong: dict[str, tuple[Any, ...]]


def routes(number: str, rev: int) -> tuple[Route, ...]:
    """Return all that take an object, for a print that lies on the desk."""
    at = f"/api/print/{number}"
    laid = {"art": "flag.png", "garment": "white tee", "width_mm": 80}
    wedge: dict[str, Any] = {"photos": ["none.jpg"]}
    not_rev = (None, "1", rev - 1, rev + 1, 10**40, [rev], True, 1.5)
    kinds = ("animal", 3, [], {"a": 1}, "x" * 5000)
    return (
        Route("/api/print", laid, {"art": (*NOT_NAME, "none.png"), "garment": NOT_NAME, "width_mm": NOT_NUMBER}),
        Route("/api/print", laid, {"kind": kinds, "screens": ("some", -1, 10**40, [3], 1.5), "inks": NOT_TEXT[5:]}),
        Route(f"{at}/edit", {"rev": rev, "change": {"do": "fly"}}, {"rev": not_rev, "change": NOT_CHANGE}),
        Route(f"{at}/step", {"rev": rev, "by": 7}, {"rev": not_rev, "by": (None, 0, 2, "1", 10**40, [1], True, 1, -1)}),
        Route(f"{at}/beside", {}, {"kind": kinds, "screens": ("some", -1, 10**40, [3], 1.5), "inks": NOT_TEXT[5:]}),
        Route(f"{at}/export", {}, {"folder": NOT_NAME}),
        Route("/api/drop/set", {}, {"orders": NOT_LIST[1:], "places": NOT_LIST[1:], "title": (*NOT_TEXT[:11], "")}),
        Route("/api/drop/make", {}, {"folder": NOT_NAME}),
        Route("/api/ink/match", {"target": "#bf2f3a"}, {"garment": NOT_NAME}),
        Route("/api/ink/match", {"garment": "white tee"}, {"target": (*NOT_TEXT, "", "/etc/passwd@1,1", "a.csv")}),
        Route("/api/ink/tint", {"garment": "white tee"}, {"parts": (*NOT_LIST, [])}),
        Route("/api/ink/label", {"garment": "white tee"}, {"count": NOT_NUMBER[:3] + NOT_NUMBER[4:]}),
        Route("/api/ink/correct", {"measured": "#e08080"}, {"parts": (*NOT_LIST, [])}),
        Route("/api/ink/nothing", {}, {"a": (1,)}),
        Route("/api/photo/inspect", {"folder": "none"}, {"photos": (*NOT_LIST, [], ["none.jpg"], ["../x.jpg"])}),
        Route("/api/photo/wedge-read", wedge, {"press": (*NOT_TEXT[1:], "none"), "photos": (*NOT_LIST, ["../x"])}),
        Route("/api/stop/nothing", {}, {"a": (1,)}),
    )


QUERIES: tuple[tuple[str, dict[str, tuple[str, ...]]], ...] = (
    ("film", {"plate": ("99", "-1", "a", "", "1e3", "9" * 50, "1.5"), "x": ("-1", "x"), "w": ("0", "-5"), "h": ("0",)}),
    (
        "window",
        {"x": ("-1", "x", "99999"), "w": ("0", "9999999", ""), "trap": ("nan", "1e9", "x"), "choke": ("inf", "99")},
    ),
    ("plane", {"plate": ("99", "-1", "a", "", "1e3")}),
    ("lifted", {"lifted": ("a", "1,x", "-1", ",".join(["9" * 8] * 3), "1.5", "%00")}),
)
SOUND = {"film": "plate=0&x=0&y=0&w=9&h=9", "window": "x=0&y=0&w=20&h=20", "plane": "plate=0", "lifted": "lifted="}


class Sender:
    """Sends broken requests to a running page, one kind after another by a seed."""

    def __init__(self, server: Server, number: str, rev: int, rng: random.Random) -> None:
        self.server, self.number, self.rng = server, number, rng
        self.routes = routes(number, rev)

    def one(self) -> tuple[str, Answer | None]:
        """Send one; return what it was and the answer, None where the page hung up."""
        kinds = (self._key, self._body, self._query, self._address, self._head, self._half, self._upload)
        return self.rng.choices(kinds, (10, 4, 3, 2, 2, 1, 2))[0]()

    def _key(self) -> tuple[str, Answer | None]:
        route = self.rng.choice(self.routes)
        key = self.rng.choice(sorted(route.wrong))
        value = self.rng.choice(route.wrong[key])
        body = json.dumps({**route.sound, key: value}).encode()
        return f"POST {route.path} {body[:160]!r}", self.server.raw("POST", route.path, self.server.own(body), body)

    def _body(self) -> tuple[str, Answer | None]:
        route, body = self.rng.choice(self.routes), self.rng.choice(NOT_JSON)
        if self.rng.random() < 0.3:
            body = bytes(self.rng.randrange(256) for _ in range(self.rng.randrange(1, 400)))
        return f"POST {route.path} {body[:60]!r}", self.server.raw("POST", route.path, self.server.own(body), body)

    def _query(self) -> tuple[str, Answer | None]:
        call, wrong = self.rng.choice(QUERIES)
        key = self.rng.choice(sorted(wrong))
        sound = dict(part.split("=") for part in SOUND[call].split("&"))
        query = "&".join(f"{name}={value}" for name, value in {**sound, key: self.rng.choice(wrong[key])}.items())
        path = f"/api/print/{self.number}/{call}?{query}"
        return f"GET {path}", self.server.raw("GET", path, self.server.own())

    def _address(self) -> tuple[str, Answer | None]:
        word = quote(
            self.rng.choice((*WORDS, "..", "../../etc/passwd", "1/../..", "0", "-1", "9" * 40))[:2000], safe=""
        )
        form = self.rng.choice(
            ("/s/{}", "/api/print/{}", "/api/print/{}/index", "/api/{}", "/api/made/picture?folder={}&name={}", "/{}x")
        )
        path = form.format(word, word) or "/"
        method = self.rng.choice(("GET", "GET", "DELETE", "PATCH", "HEAD", "OPTIONS", "TRACE", "BREW"))
        if method == "GET" and path in ("/", "/api/print/1"):
            path = "/api/print/none"
        return f"{method} {path[:120]}", self.server.raw(method, path, self.server.own())

    def _head(self) -> tuple[str, Answer | None]:
        headers = self.server.own()
        wrong: dict[str, tuple[str | None, ...]] = {
            "Host": ("evil.example", "127.0.0.1", "", f"127.0.0.1:{self.server.port}.evil.example"),
            "X-Sepkit": (None, "", "guess", self.server.token[:-1], "\xe9" * 20, "x" * 3000),
            "Origin": (None, "null", "http://evil.example", f"https://127.0.0.1:{self.server.port}"),
            "Sec-Fetch-Site": ("cross-site", "same-site", "x"),
            "Content-Length": (None, "-1", "1e3", "999999999999", "9" * 300, "0x10"),
        }
        name = self.rng.choice(sorted(wrong))
        value = self.rng.choice(wrong[name])
        headers.pop(name)
        if value is not None:
            headers[name] = value
        return f"POST /api/print with {name}: {value!r}"[:160], self.server.raw("POST", "/api/print", headers)

    def _half(self) -> tuple[str, Answer | None]:
        """Send half a body, or half a head, and hang up."""
        whole = json.dumps({"art": "flag.png", "garment": "white tee", "width_mm": 80}).encode() * 20
        head = "".join(f"{name}: {value}\r\n" for name, value in self.server.own(whole).items())
        said = f"{self.rng.choice(('POST /api/print', 'PUT /api/art?name=a.png'))} HTTP/1.1\r\n{head}\r\n".encode()
        sent = (said + whole)[: self.rng.randrange(5, len(said) + len(whole) - 1)]
        with socket.create_connection(("127.0.0.1", self.server.port), timeout=30) as line:
            line.sendall(sent)
            if self.rng.random() < 0.5:
                line.shutdown(socket.SHUT_WR)
                data = line.recv(200)
                status = int(data.split()[1]) if data.startswith(b"HTTP/1.1 ") else 0
                return f"half of {said[:30]!r}", Answer(status, {}, b"") if status else None
        return f"half of {said[:30]!r}, hung up", None

    def _upload(self) -> tuple[str, Answer | None]:
        """An upload that must be refused at the door, or art of a hostile name that cannot be laid."""
        path = self.rng.choice(("/api/art", "/api/photo"))
        name = quote(self.rng.choice((*WORDS, "../../x.png", "<img onerror=1>.png", "con", ".png", ""))[:1500], safe="")
        return f"PUT {path}?name={name[:60]} empty", self.server.raw("PUT", f"{path}?name={name}", self.server.own())


def judged(what: str, answer: Answer | None) -> str:
    """Return what is wrong with an answer to a broken request; empty where nothing is."""
    if answer is None:
        return ""
    if not 400 <= answer.status < 500:
        return f"{what}: {answer.status} {answer.body[:160]!r}"
    if answer.body and answer.headers.get("content-type") == "application/json":
        said = answer.json()
        text = f"{said.get('error', '')}{said.get('hint', '')}"
        if not {"error", "hint", "code"} <= set(said) or not said["error"]:
            return f"{what}: no words {answer.body[:160]!r}"
        if len(text) > MOST_LINE or not text.isprintable():
            return f"{what}: words that are no line {text[:160]!r}"
    return ""


def tree(folder: Path) -> set[str]:
    """Return all that lies below a folder."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def broken_requests(server: Server, one: dict[str, Any], *, count: int, seed: int) -> tuple[list[str], Counter[int]]:
    """Send broken requests; return what is wrong, and how often each status came (0: the page hung up).

    ``one`` is a print that lies on the desk; the working folder must lie in a folder of its own.
    """
    rng = random.Random(seed)
    sender = Sender(server, one["id"], one["rev"], rng)
    before, outside = server.ask("GET", f"/api/print/{one['id']}").json(), tree(server.folder.parent)
    wrong, seen = [], Counter[int]()
    for nth in range(count):
        what, answer = sender.one()
        seen[0 if answer is None else answer.status] += 1
        fault = judged(f"{seed}:{nth} {what}", answer)
        wrong += [fault] if fault else []
    now = server.ask("GET", f"/api/print/{one['id']}").json()
    if {**now, "working": None} != {**before, "working": None}:
        wrong.append("the print was changed")
    if server.ask("GET", "/api/desk").status != 200:
        wrong.append("the page answers no more")
    own = server.folder.name + "/sepkit-page"
    more = {name for name in tree(server.folder.parent) - outside if not name.startswith(own) and not _job_file(name)}
    return wrong + [f"written: {name}" for name in sorted(more)], seen


def _job_file(name: str) -> bool:
    return name.endswith("/drop.toml")


def broken_art(server: Server, index: int, *, seed: int, seeds: dict[str, list[bytes]]) -> tuple[str, str]:
    """Drop a broken file, lay it, take it off again; return its kind, and what is wrong or ""."""
    kind, rng = kind_of(seed, index)
    if kind not in ART:
        return kind, ""
    data = broken(kind, rng, seeds[kind])
    head = f"{seed}:{index} {kind}"
    put = server.ask("PUT", f"/api/art?name=art{ART[kind]}", data=data)
    if put.status != 201:
        return kind, "" if put.status == 422 and not data else f"{head}: upload {put.status} {put.body[:120]!r}"
    body = {"art": put.json()["art"], "garment": "black tee", "width_mm": rng.choice((40, 40, 3000, 8)), "screens": 2}
    if body["width_mm"] == 3000:
        body["width_mm"] = 120
    laid = server.ask("POST", "/api/print", body)
    if laid.status != 202:
        return kind, f"{head}: laid {laid.status} {laid.body[:120]!r}"
    began = time.monotonic()
    one = server.settled(laid.json()["id"])
    trouble = one["trouble"]
    away = server.ask("POST", f"/api/print/{one['id']}/away", {})
    if trouble is not None:
        text = f"{trouble['error']}{trouble['hint']}"
        if trouble["code"] not in DOCUMENTED or not text.isprintable() or len(text) > MOST_LINE:
            return kind, f"{head}: {trouble}"
    if away.status != 200 or server.ask("GET", "/api/desk").status != 200:
        return kind, f"{head}: the page answers no more"
    took = time.monotonic() - began
    return kind, f"{head}: {took:.0f} s" if took > 60 else ""


def requests(_: Any, given: Given) -> list[str]:
    """Two thousand broken requests by a seed: only 4xx, in words; nothing written elsewhere; the print as it was."""
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder) / "work"
        work.mkdir()
        with serving(work) as server:
            one = server.laid(flag(Path(folder) / "flag.png"))
            wrong, seen = broken_requests(server, one, count=given.count or 2000, seed=given.seed)
    print("  " + ", ".join(f"{status or 'hung up'} {count}" for status, count in sorted(seen.items())))
    return wrong


def uploads(_: Any, given: Given) -> list[str]:
    """The broken art of the fuzz run through the upload, laid and taken off again: a line of error, or a print."""
    seeds = fuzz_seeds()
    wrong, kinds = [], Counter[str]()
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder) / "work"
        work.mkdir()
        with serving(work) as server:
            outside = tree(work.parent)
            for index in range(given.count or 110):
                kind, fault = broken_art(server, index, seed=given.seed, seeds=seeds)
                kinds[kind] += kind in ART
                wrong += [fault] if fault else []
            more = {name for name in tree(work.parent) - outside if not name.startswith("work/sepkit-page")}
            wrong += [f"written: {name}" for name in sorted(more)]
    print("  " + ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items()) if count))
    return wrong
