"""`hardtack serve`: the page on this computer."""

from __future__ import annotations

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from hardtack.errors import HardtackError
from hardtack.web.safety import door, is_loopback

PORT = 8714
"""Where the page is unless another is named; when it is taken, the next free one."""
_TRIED = 20


def serve(
    port: int | None = None,
    *,
    browser: bool = True,
    ledger: str | None = None,
    address: str = "127.0.0.1",
    known_as: tuple[str, ...] = (),
    sweeps: Path | None = None,
    say: Callable[[str], None] = print,
) -> None:
    """Serve until stopped. Raises `HardtackError` when the address, the port or the ledger cannot be had, or there
    is no folder of `sweeps`."""
    if sweeps is not None and not sweeps.is_dir():
        raise HardtackError(f"there is no folder {sweeps}", "name the folder that holds your sweeps' folders")
    listening = _listen(address, port)
    import uvicorn

    from hardtack.ledger import open_ledger
    from hardtack.web.app import create_app

    number = listening.getsockname()[1]
    token = "" if is_loopback(address) else secrets.token_urlsafe(24)
    shown = f"[{address}]" if ":" in address else address
    url = f"http://{shown}:{number}/" + (f"?token={token}" if token else "")
    opened = open_ledger(ledger)
    app = create_app(opened, door(address, number, known_as, token), sweeps)
    server = uvicorn.Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            ws="none",
            lifespan="on",
            timeout_graceful_shutdown=2,
            h11_max_incomplete_event_size=64_000,
        )
    )
    say(f"Hardtack is at {url}")
    if token:
        say("Others on the network can reach it with this address only; the token is new at every start.")
    say("Stop it with Ctrl+C.")
    threading.Thread(target=_get_ready, args=(url if browser else "",), daemon=True).start()
    try:
        server.run(sockets=[listening])
    finally:
        opened.dispose()


def _listen(address: str, port: int | None) -> socket.socket:
    """A socket on the address; without a port the usual one or the next that is free."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    numbers = range(PORT, PORT + _TRIED) if port is None else (port,)
    for number in numbers:
        listening = socket.socket(family, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((address, number))
            listening.listen(128)
            return listening
        except (OSError, OverflowError) as error:
            listening.close()
            refused = getattr(error, "strerror", None) or str(error)
    raise HardtackError(f"{address}:{numbers[0]} cannot be had ({refused})", "name another with --port")


def _get_ready(url: str) -> None:
    """Open the browser, then load what the first answers need while the person reads."""
    from hardtack.web.desk import warm
    from hardtack.web.forms import schema
    from hardtack.web.vega import drawing_code

    if url:
        webbrowser.open(url)
    threading.Event().wait(0.3)  # the first page goes first
    schema()
    warm()
    drawing_code()
