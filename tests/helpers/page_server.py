"""The page's server as a program of its own, and requests to it as a browser or an attacker would send them."""

from __future__ import annotations

import http.client
import json
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote


@dataclass(frozen=True)
class Answer:
    status: int
    headers: Mapping[str, str]
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)


@dataclass(frozen=True)
class Server:
    folder: Path
    address: str
    port: int
    token: str
    process: subprocess.Popen[str]

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def raw(
        self, method: str, path: str, headers: Mapping[str, str] | list[tuple[str, str]], body: bytes = b""
    ) -> Answer:
        """Send just these headers (Host included) and return the answer."""
        pairs = list(headers.items()) if isinstance(headers, Mapping) else headers
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=300)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in pairs:
                connection.putheader(name, value)
            connection.endheaders(body or None)
            answer = connection.getresponse()
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def own(self, body: bytes = b"", **more: str) -> dict[str, str]:
        """Return the headers of the page itself."""
        return {
            "Host": f"127.0.0.1:{self.port}",
            "X-Sepkit": self.token,
            "Origin": self.origin,
            "Sec-Fetch-Site": "same-origin",
            "Content-Length": str(len(body)),
            **more,
        }

    def ask(self, method: str, path: str, value: Any = None, *, data: bytes | None = None) -> Answer:
        """Ask as the page does."""
        body = data if data is not None else b"" if value is None else json.dumps(value).encode()
        return self.raw(method, path, self.own(body), body)

    def laid(self, art: Path, *, garment: str = "white tee", width_mm: float = 80) -> dict[str, Any]:
        """Drop art, lay it on the table, wait; return the print."""
        name = self.ask("PUT", f"/api/art?name={quote(art.name)}", data=art.read_bytes()).json()["art"]
        made = self.ask("POST", "/api/print", {"art": name, "garment": garment, "width_mm": width_mm}).json()
        return self.settled(made["id"])

    def settled(self, number: str, *, within_s: float = 120) -> dict[str, Any]:
        """Return a print once it is decided."""
        end = time.monotonic() + within_s
        while time.monotonic() < end:
            one: dict[str, Any] = self.ask("GET", f"/api/print/{number}").json()
            if one["state"] or one["trouble"]:
                return one
            time.sleep(0.1)
        raise AssertionError("the print was not decided in time")


def children(pid: int) -> list[int]:
    """Return the processes below one, from Linux's /proc; none elsewhere."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            parent = int(stat.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
        if parent == pid:
            own = int(stat.parent.name)
            found += [own, *children(own)]
    return found


@contextmanager
def serving(folder: Path) -> Iterator[Server]:
    """Run ``sepkit page`` for a folder."""
    command = [sys.executable, "-c", "from sepkit.cli.main import main; main()", "page", str(folder), "--no-open"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        assert process.stdout is not None
        address = process.stdout.readline().split()[-1]
        port, token = address.removeprefix("http://127.0.0.1:").split("/#")
        yield Server(folder if folder.is_dir() else folder.parent, address, int(port), token, process)
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(60)
        if process.stdout is not None:
            process.stdout.close()
