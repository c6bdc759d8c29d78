"""The tables of the ledger. Rows of `edits` and `files` are only ever added; the database refuses the rest."""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Integer, LargeBinary, MetaData, String, Table, Text

HEAD = "v0001"
"""The migration that makes the tables as they stand here."""

metadata = MetaData()

products = Table(
    "products",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("started", String(32), nullable=False),
)

edits = Table(
    "edits",
    metadata,
    Column("product", String(16), ForeignKey("products.id"), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", String(32), nullable=False),
    Column("kind", String(8), nullable=False),  # change, undo or redo
    Column("place", Text, nullable=False),  # where in the file, empty for the whole
    Column("what", Text, nullable=False),  # in words
    Column("text", Text, nullable=False),  # the whole product file after it
)

files = Table(
    "files",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("product", String(16), ForeignKey("products.id"), nullable=False, index=True),
    Column("at", String(32), nullable=False),
    Column("name", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
)
