"""The server of the page: bound to this machine, told once it listens, ended with Ctrl-C.

In: a working folder. It listens on 127.0.0.1 only, on a free port unless one is asked for; there is no way to bind
another address. The token stands behind the # of the address, which no browser sends.
"""

from __future__ import annotations

import contextlib
import secrets
import socket
import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.page.desk import Desk
from sepkit.page.guard import Guard
from sepkit.workshop.page.hold import held

if TYPE_CHECKING:
    import uvicorn

    from sepkit.workshop.page.start import Start

HOST = "127.0.0.1"
TOKEN_BYTES = 24
IDLE_S = 600.0
"""Without a page for so long the server ends: a browser slows a hidden page to one question a minute."""
LOOK_S = 5.0


def serve(start: Start, *, port: int = 0, tell: Callable[[str], None], stay: bool = False) -> None:
    """Serve the page of a working folder until it is interrupted; ``tell`` is given the address once it listens.

    What ``start`` lays on the desk is laid unless it lies there already. Unless ``stay``, the server ends when no page
    has asked for IDLE_S. While it serves, the working folder is the process's own. Raises UsageError for a port that
    is taken, WriteError for a damaged desk or a folder that another page holds.
    """
    with held(start.folder), contextlib.chdir(start.folder):
        desk = Desk(start.folder)
        desk.lay(start)
        _serve(desk, port=port, tell=tell, stay=stay)


def _serve(desk: Desk, *, port: int, tell: Callable[[str], None], stay: bool) -> None:
    import uvicorn

    from sepkit.page.routes import app_of

    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, port))
        except OSError as error:
            raise UsageError(f"port {port} is taken", where="--port", hint="leave it out for a free one") from error
        listener.listen(128)
        port = listener.getsockname()[1]
        token = secrets.token_urlsafe(TOKEN_BYTES)
        app = Guard(app_of(desk), hosts=frozenset((f"{HOST}:{port}", f"localhost:{port}")), token=token)
        config = uvicorn.Config(
            app,
            ws="none",
            lifespan="off",
            access_log=False,
            log_level="warning",
            server_header=False,
            date_header=False,
        )
        tell(f"http://{HOST}:{port}/#{token}")
        server = uvicorn.Server(config)
        if not stay:
            threading.Thread(target=_end_when_alone, args=(server, desk), daemon=True).start()
        try:
            server.run(sockets=[listener])
        finally:
            desk.close()


def _end_when_alone(server: uvicorn.Server, desk: Desk) -> None:
    """End the server once no page has asked for a while and nothing is at work."""
    while not server.should_exit:
        time.sleep(LOOK_S)
        if time.monotonic() - desk.seen_at > IDLE_S and not desk.busy():
            server.should_exit = True
