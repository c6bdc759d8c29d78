"""A ledger in SQLite, and one in a PostgreSQL server of the test's own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from hardtack.ledger import open_ledger
from tests.ledger.postgres import running_server


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The URL of an empty server."""
    with running_server(tmp_path_factory.mktemp("pg")) as url:
        yield url


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a fresh ledger may be opened."""
    if request.param == "sqlite":
        return str(tmp_path / "a folder" / "ledger.sqlite")
    return fresh_database(request.getfixturevalue("postgres"))


@pytest.fixture
def ledger(place: str) -> Iterator[Engine]:
    """A fresh ledger."""
    engine = open_ledger(place)
    yield engine
    engine.dispose()


def fresh_database(url: str) -> str:
    """A new database of the server."""
    import secrets

    import psycopg

    name = f"ledger_{secrets.token_hex(4)}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}".encode())
    return url.replace("/postgres?", f"/{name}?")
