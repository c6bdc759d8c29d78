"""Files brought with a product: measurements and logger records, as they came."""

from __future__ import annotations

import datetime
import secrets
from dataclasses import dataclass

from sqlalchemy import Engine, func, insert, select

from hardtack.errors import NotOnShelf
from hardtack.ledger.opening import WRITES
from hardtack.ledger.tables import files


@dataclass(frozen=True, slots=True)
class Brought:
    """A file as it came: `name` is what its bringer called it, never a place on the disk."""

    id: str
    product: str
    at: str
    name: str
    size: int


def bring_file(ledger: Engine, product: str, name: str, content: bytes) -> Brought:
    """Keep a file with a product. A file of the same name stays; the later one counts."""
    made = Brought(
        secrets.token_hex(5),
        product,
        datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds"),
        name,
        len(content),
    )
    values = {"id": made.id, "product": product, "at": made.at, "name": name, "content": content}
    with ledger.execution_options(**{WRITES: True}).begin() as connection:
        connection.execute(insert(files).values(**values))
    return made


def brought_files(ledger: Engine, product: str) -> tuple[Brought, ...]:
    """The files of a product, the last one first."""
    query = (
        select(
            files.c.id, files.c.product, files.c.at, files.c.name, func.length(files.c.content).label("size")
        )
        .where(files.c.product == product)
        .order_by(files.c.at.desc(), files.c.id)
    )
    with ledger.connect() as connection:
        return tuple(Brought(*row) for row in connection.execute(query))


def brought_file(ledger: Engine, product: str, id: str) -> tuple[str, bytes]:
    """Name and content of one file of a product. Raises `NotOnShelf` when there is none."""
    query = select(files.c.name, files.c.content).where(files.c.id == id, files.c.product == product)
    with ledger.connect() as connection:
        row = connection.execute(query).one_or_none()
    if row is None:
        raise NotOnShelf("this product has no such file", "its measurements page lists them")
    return row.name, bytes(row.content)
