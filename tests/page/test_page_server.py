"""The server of the page: who may ask, what is refused, and that its folder is the command line's.

Attacks follow the OWASP Cross-Site Request Forgery Prevention and File Upload cheat sheets, and RFC 6265, section 8.5.
"""

from __future__ import annotations

import gzip
import hashlib
import http.client
import socket
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.benchmarks._page_requests import broken_art, broken_requests
from tests.benchmarks._readers import ART
from tests.benchmarks._seeds import seeds as fuzz_seeds
from tests.helpers.page_server import Server, children, serving
from tests.helpers.runner import run

RED, BLUE, SUN = "#c82828", "#1e3ca0", "#f4c95d"


def flag(path: Path) -> Path:
    rgba = np.zeros((90, 160, 4), np.uint8)
    for k, colour in enumerate((RED, BLUE, SUN)):
        rgba[10:80, 10 + 45 * k : 50 + 45 * k] = (*bytes.fromhex(colour[1:]), 255)
    Image.fromarray(rgba).save(path)
    return path


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("work")) as running:
        yield running


@pytest.fixture(scope="module")
def laid(server, tmp_path_factory):
    return server.laid(flag(tmp_path_factory.mktemp("art") / "flag.png"))


def files_of(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_page_carries_its_policy(server):
    answer = server.raw("GET", "/", {"Host": f"127.0.0.1:{server.port}"})
    assert answer.status == 200
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-frame-options"] == "DENY"
    assert "set-cookie" not in answer.headers
    assert server.token not in answer.body.decode()


def test_the_page_s_modules_are_one_file_packed_for_whoever_takes_it_so(server):
    """RFC 1952, and RFC 9110, 12.5.3 and 12.5.5: what is kept on the way knows that there are two."""
    host = {"Host": f"127.0.0.1:{server.port}"}
    plain, packed = (server.raw("GET", "/s/page.js", host | more) for more in ({}, {"Accept-Encoding": "br, gzip"}))
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert plain.headers["vary"] == packed.headers["vary"] == "Accept-Encoding"
    assert gzip.decompress(packed.body) == plain.body
    assert len(packed.body) < 40_000
    assert packed.headers["content-type"] == plain.headers["content-type"] == "text/javascript; charset=utf-8"


def test_it_listens_on_this_machine_only(server):
    """Linux's own table of sockets: the port is bound to 127.0.0.1 and nowhere else."""
    table = Path("/proc/net/tcp")
    if not table.exists():  # elsewhere: the address of another interface must not answer
        with pytest.raises(OSError), socket.create_connection((socket.gethostname(), server.port), timeout=2):
            pass
        return
    rows = [line.split() for line in table.read_text().splitlines()[1:]]
    bound = {row[1].split(":")[0] for row in rows if row[1].endswith(f":{server.port:04X}") and row[3] == "0A"}
    assert bound == {"0100007F"}


ATTACKS = [
    ("a bent name", "GET", "/api/desk", {"Host": "evil.example"}, 421),
    ("a bent name with the port", "GET", "/", {"Host": "evil.example:{port}"}, 421),
    ("a name that begins alike", "GET", "/", {"Host": "127.0.0.1.evil.example:{port}"}, 421),
    ("no token", "GET", "/api/desk", {"X-Sepkit": None}, 401),
    ("another token", "GET", "/api/desk", {"X-Sepkit": "guess"}, 401),
    ("another site reads", "GET", "/api/desk", {"Sec-Fetch-Site": "cross-site"}, 403),
    ("another port reads", "GET", "/api/desk", {"Sec-Fetch-Site": "same-site"}, 403),
    ("another site writes", "POST", "/api/print", {"Origin": "http://evil.example"}, 403),
    ("a sandboxed frame writes", "POST", "/api/print", {"Origin": "null"}, 403),
    ("a write of no origin", "POST", "/api/print", {"Origin": None}, 403),
    ("a question before", "OPTIONS", "/api/print", {}, 405),
    ("a method that is none", "DELETE", "/api/print/1", {}, 405),
    ("no length", "PUT", "/api/art?name=a.png", {"Content-Length": None}, 411),
    ("a length that is none", "PUT", "/api/art?name=a.png", {"Content-Length": "-5"}, 400),
    ("far too long", "PUT", "/api/art?name=a.png", {"Content-Length": "999999999999"}, 413),
]


@pytest.mark.parametrize(("what", "method", "path", "own", "status"), ATTACKS, ids=[row[0] for row in ATTACKS])
def test_who_may_not_ask_is_refused(server, what, method, path, own, status):
    headers = server.own()
    for name, value in own.items():
        headers.pop(name, None)
        if value is not None:
            headers[name] = value.format(port=server.port)
    assert server.raw(method, path, headers).status == status


def test_a_host_comes_once(server):
    host = ("Host", f"127.0.0.1:{server.port}")
    assert server.raw("GET", "/", [host, host]).status in (400, 421)
    assert server.raw("GET", "/", []).status in (400, 421)


@pytest.mark.parametrize(
    "name",
    ["../app.js", "..%2f..%2fguard.py", "%2e%2e/guard.py", "..%5cguard.py", "app.js%00.css", "/etc/passwd", "guard.py"],
)
def test_only_the_page_s_own_files_are_served(server, name):
    assert server.raw("GET", f"/s/{name}", {"Host": f"127.0.0.1:{server.port}"}).status in (404, 405, 307)


@pytest.mark.parametrize("folder", ["../out", "/tmp/out", "a/b", "..", ".hidden", "", "a\\..\\b", "x" * 200, "a\nb"])
def test_a_folder_is_a_plain_name(server, laid, folder):
    answer = server.ask("POST", f"/api/print/{laid['id']}/export", {"folder": folder})
    assert answer.status == 422


def test_the_folder_is_that_of_the_command_line(server, laid, tmp_path):
    number, rev = laid["id"], laid["rev"]
    change = {"do": "ink", "of": BLUE, "set": {"ink": "green", "coats": 2, "name": "sea"}}
    one = server.ask("POST", f"/api/print/{number}/edit", {"rev": rev, "change": change}).json()
    assert [s["coats"] for s in one["state"]["stations"] if s["name"] == "sea"] == [2]
    made = server.ask("POST", f"/api/print/{number}/export", {"folder": "flag-out"}).json()
    assert "films.pdf" in made["files"]
    art = server.folder / "sepkit-page" / "art" / "flag.png"
    edits = server.folder / "sepkit-page" / f"print-{number}.edits.toml"
    out = tmp_path / "cli"
    assert run("separate", art, "--on", "white tee", "--width", "80mm", "--edits", edits, "-o", out, "--quiet") == 0
    assert files_of(out) == files_of(server.folder / "flag-out")
    again = server.ask("POST", f"/api/print/{number}/export", {"folder": "flag-out"})
    assert again.status == 422  # what stands is not written over
    back = server.ask("POST", f"/api/print/{number}/step", {"rev": one["rev"], "by": -1}).json()
    assert back["edits"] == {}
    assert back["state"]["stations"] == laid["state"]["stations"]


def test_an_older_revision_is_refused_and_nothing_changes(server, laid):
    number = laid["id"]
    now = server.ask("GET", f"/api/print/{number}").json()
    change = {"do": "open", "of": BLUE}
    answer = server.ask("POST", f"/api/print/{number}/edit", {"rev": now["rev"] - 1, "change": change})
    assert answer.status == 409
    assert server.ask("GET", f"/api/print/{number}").json()["edits"] == now["edits"]


def test_broken_art_is_told_in_words(server):
    name = server.ask("PUT", "/api/art?name=%3Cimg%20onerror%3D1%3E.png", data=b"no picture").json()["art"]
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.-")
    one = server.ask("POST", "/api/print", {"art": name, "garment": "white tee", "width_mm": 80}).json()
    trouble = server.settled(one["id"])["trouble"]
    assert trouble["code"] == 4
    assert server.ask("POST", f"/api/print/{one['id']}/away", {}).status == 200
    assert server.ask("GET", f"/api/print/{one['id']}").status == 404


def test_broken_requests_are_refused_and_the_page_still_answers(server, laid):
    """A short form of ``python -m tests.benchmarks page requests``."""
    wrong, seen = broken_requests(server, server.ask("GET", f"/api/print/{laid['id']}").json(), count=120, seed=11)
    assert wrong == []
    assert {404, 405, 422} <= set(seen)


@pytest.mark.parametrize("index", [3, 12])
def test_broken_art_through_the_upload_is_a_line_or_a_print(server, index):
    """A short form of ``python -m tests.benchmarks page uploads``."""
    kind, fault = broken_art(server, index, seed=5, seeds=fuzz_seeds())
    assert kind in ART
    assert fault == ""


def test_slow_clients_hold_nobody_up(server):
    held = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(40)]
    try:
        for one in held:
            one.sendall(b"POST /api/print HTTP/1.1\r\nHost: x\r\nContent-Len")
        assert server.ask("GET", "/api/desk").status == 200
    finally:
        for one in held:
            one.close()


def test_everything_is_as_it_was_after_a_new_start(tmp_path):
    work = tmp_path / "work"
    work.mkdir()
    with serving(work) as first:
        one = first.laid(flag(tmp_path / "flag.png"))
        change = {"do": "with", "of": RED, "to": SUN}
        one = first.ask("POST", f"/api/print/{one['id']}/edit", {"rev": one["rev"], "change": change}).json()
    with serving(work) as second:
        assert second.token != first.token
        again = second.settled(one["id"])
        assert again["state"] == one["state"]
        assert (again["undo"], again["edits"]) == (1, one["edits"])
        assert second.raw("GET", "/api/desk", second.own(**{"X-Sepkit": first.token})).status == 401


def test_a_killed_process_is_told_and_the_next_change_works(server, laid):
    import os
    import signal

    one = server.ask("GET", f"/api/print/{laid['id']}").json()
    for child in children(server.process.pid):
        os.kill(child, signal.SIGKILL)
    change = {"do": "open", "of": BLUE}
    answers = [
        server.ask("POST", f"/api/print/{one['id']}/edit", {"rev": one["rev"], "change": change}) for _ in range(2)
    ]
    assert answers[0].status in (200, 422)
    done = next(answer for answer in answers if answer.status == 200).json()
    assert len(done["state"]["stations"]) == 2
    back = server.ask("POST", f"/api/print/{one['id']}/step", {"rev": done["rev"], "by": -1}).json()
    assert (back["edits"], back["state"]) == (one["edits"], one["state"])


def test_a_damaged_desk_is_one_line_and_stays(tmp_path, capsys):
    own = tmp_path / "sepkit-page"
    own.mkdir()
    (own / "desk.json").write_text("{")
    assert run("page", tmp_path, "--no-open") == 7
    assert "the desk is damaged" in capsys.readouterr().err
    assert (own / "desk.json").read_text() == "{"


def test_help_loads_no_server():
    import subprocess
    import sys

    code = (
        "import sys; from sepkit.cli.main import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "print([m for m in sys.modules if m.startswith(('starlette', 'uvicorn'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_raw_helper_speaks_plain_http(server: Server):
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    connection.request("GET", "/s/app.js", headers={"Host": f"127.0.0.1:{server.port}"})
    assert connection.getresponse().status == 200
    connection.close()
