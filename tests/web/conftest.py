"""A real server on this computer, and one who asks it: with forms like a browser without scripts."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import requests
import uvicorn
from sqlalchemy import Engine

from hardtack.ledger import head, open_ledger
from hardtack.web.app import create_app
from hardtack.web.safety import door


class Client(requests.Session):
    """Asks a server; changes come from its own pages unless a test says otherwise; redirects are looked at."""

    def __init__(self, base: str) -> None:
        super().__init__()
        self.trust_env = False
        self.base = base

    def request(self, method: str | bytes, url: str | bytes, *args: Any, **options: Any) -> requests.Response:
        headers = {k.lower(): v for k, v in (options.pop("headers", None) or {}).items()}
        if str(method) in ("POST", "PUT", "PATCH"):
            headers.setdefault("origin", self.base)
        return super().request(
            method,
            f"{self.base}{url!s}",
            *args,
            headers=headers,
            allow_redirects=False,
            timeout=60,
            **options,
        )

    def get(self, url: str | bytes, **options: Any) -> requests.Response:
        return self.request("GET", url, **options)

    def raw(self, path: str) -> int:
        """The status of an address sent as it stands, nothing put in order on the way."""
        connection = http.client.HTTPConnection(urlsplit(self.base).netloc, timeout=30)
        try:
            connection.request("GET", path)
            return connection.getresponse().status
        finally:
            connection.close()


@contextmanager
def serving(
    ledger: Engine,
    address: str = "127.0.0.1",
    known_as: tuple[str, ...] = (),
    token: str = "",
    sweeps: Path | None = None,
) -> Iterator[Client]:
    """A server over a ledger, in this process."""
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    app = create_app(ledger, door(address, port, known_as, token), sweeps)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", ws="none", lifespan="on"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.005)
    try:
        with Client(f"http://127.0.0.1:{port}") as client:
            yield client
    finally:
        server.should_exit = True
        thread.join(10)
        listening.close()


@pytest.fixture(scope="session")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """The ledger of the session's server."""
    engine = open_ledger(tmp_path_factory.mktemp("web") / "ledger.sqlite")
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def client(ledger: Engine) -> Iterator[Client]:
    """A browser without scripts."""
    with serving(ledger) as client:
        yield client


@pytest.fixture(scope="session")
def site(client: Client) -> str:
    """The server's address."""
    return client.base


class Bench:
    """A product on the page, as one who has no scripts uses it."""

    def __init__(self, client: Client, ledger: Engine, kind: str = "cracker") -> None:
        self.client, self.ledger = client, ledger
        answer = client.post("/new", data={"kind": kind})
        assert answer.status_code == 303, answer.text
        self.id = answer.headers["location"].split("/")[2]
        self.root = f"/p/{self.id}"

    @property
    def text(self) -> str:
        return head(self.ledger, self.id).text

    @property
    def seq(self) -> int:
        return head(self.ledger, self.id).step.seq

    def send(self, stage: str, **fields: str) -> str:
        """Send a form; names are places, `act` a button. Gives where it leads."""
        data = {"seq": str(self.seq), **fields}
        answer = self.client.post(f"{self.root}/{stage}", data=data)
        assert answer.status_code == 303, answer.text
        return str(answer.headers["location"])

    def page(self, name: str) -> str:
        """A page's text."""
        answer = self.client.get(f"{self.root}/{name}")
        assert answer.status_code == 200, answer.text
        return answer.text


@pytest.fixture
def bench(client: Client, ledger: Engine) -> Bench:
    """A cracker on the page."""
    return Bench(client, ledger)


def place_of(engine: Engine) -> Path:
    """The folder of a SQLite ledger."""
    return Path(str(engine.url.database)).parent
