"""Opening the ledger: a SQLite file unless a database is named by its URL."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError

from hardtack.errors import HardtackError
from hardtack.ledger.tables import HEAD

WRITES = "hardtack_writes"
"""Execution option of a connection that is going to write: SQLite then takes the lock at once."""
_WAIT = 30_000  # ms for another writer; a write takes a few


def default_place() -> str:
    """The environment's HARDTACK_LEDGER, else a SQLite file in the user's own data folder."""
    if named := os.environ.get("HARDTACK_LEDGER"):
        return named
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        folder = Path.home() / "Library" / "Application Support"
    else:
        folder = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return str(folder / "hardtack" / "ledger.sqlite")


def open_ledger(place: str | Path | None = None) -> Engine:
    """The ledger at `place`: a file, made when there is none, or a database URL. Brought up to date.

    SQLite writes ahead and flushes every commit to the disk: what was acknowledged outlives a crash.
    Raises `HardtackError` when it cannot be opened.
    """
    place = str(place or default_place())
    try:
        engine = _postgresql(place) if "://" in place and not place.startswith("sqlite") else _sqlite(place)
    except (ArgumentError, NoSuchModuleError, ImportError) as error:
        raise HardtackError(
            f"this names no ledger ({type(error).__name__})",
            "name a file, or postgresql://user@host/database with the extra `postgres` installed",
        ) from None
    except OSError as error:
        raise HardtackError(
            f"the ledger's folder cannot be made ({error.strerror})", "name another with --ledger"
        ) from None
    try:
        _bring_up_to_date(engine)
    except HardtackError:
        engine.dispose()
        raise
    except (SQLAlchemyError, OSError) as error:
        engine.dispose()
        said = str(getattr(error, "orig", None) or error).strip().splitlines()[0]
        raise HardtackError(
            f"the ledger cannot be opened ({said})",
            "look at its place and rights, or name another with --ledger",
        ) from None
    return engine


def _postgresql(place: str) -> Engine:
    url = make_url(place)
    if url.drivername in ("postgresql", "postgres"):
        url = url.set(drivername="postgresql+psycopg")
    return create_engine(url, pool_size=10, max_overflow=30, pool_pre_ping=True)


def _sqlite(place: str) -> Engine:
    file = Path(place.removeprefix("sqlite:///"))
    file.parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(
        f"sqlite:///{file}", pool_size=10, max_overflow=50, connect_args={"timeout": _WAIT / 1000}
    )
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection: Any, record: Any) -> None:
    connection.isolation_level = None  # transactions begin where `_begin` says
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", f"busy_timeout={_WAIT}"):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _bring_up_to_date(engine: Engine) -> None:
    """Run the steps that are missing; two programs that open a new ledger at once do it one after the other."""
    with engine.connect() as connection:
        if _version(connection) == HEAD:
            return
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(727227251)"))
        found = _version(connection)
        if found == HEAD:
            return
        from alembic import command
        from alembic.config import Config
        from alembic.util import CommandError

        steps = Config()
        steps.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
        steps.attributes["connection"] = connection
        try:
            command.upgrade(steps, HEAD)
        except CommandError:
            raise HardtackError(
                f"the ledger was made by a newer program (its version is {found})", "use that program"
            ) from None


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found
