"""The server of the page: bound to this machine, told once it listens, ended with Ctrl-C.

In: a working folder. It listens on 127.0.0.1 only, on a free port unless one is asked for; there is no way to bind
another address. The token stands behind the # of the address, which no browser sends.
"""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from pathlib import Path

from sepkit.errors import UsageError
from sepkit.page.desk import Desk
from sepkit.page.guard import Guard

HOST = "127.0.0.1"
TOKEN_BYTES = 24


def serve(folder: Path, *, port: int = 0, tell: Callable[[str], None]) -> None:
    """Serve the page of ``folder`` until it is interrupted; ``tell`` is given the address once it listens.

    Raises UsageError for a port that is taken, WriteError for a damaged desk.
    """
    import uvicorn

    from sepkit.page.routes import app_of

    desk = Desk(folder)
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
        try:
            uvicorn.Server(config).run(sockets=[listener])
        finally:
            desk.close()
