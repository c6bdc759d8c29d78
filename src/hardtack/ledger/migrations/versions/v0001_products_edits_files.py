"""Products, their edits and the files brought with them; edits and files can only be added."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "v0001"
down_revision = None

_KEPT = ("edits", "files")


def upgrade() -> None:
    """Make the tables and what guards them."""
    op.create_table(
        "products",
        sa.Column("id", sa.String(16), primary_key=True),
        sa.Column("started", sa.String(32), nullable=False),
    )
    op.create_table(
        "edits",
        sa.Column("product", sa.String(16), sa.ForeignKey("products.id"), primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("kind", sa.String(8), nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "files",
        sa.Column("id", sa.String(16), primary_key=True),
        sa.Column("product", sa.String(16), sa.ForeignKey("products.id"), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    op.create_index("ix_files_product", "files", ["product"])
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION only_added() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'the ledger is only added to'; END $$"
        )
    for table in _KEPT:
        for deed in ("UPDATE", "DELETE"):
            op.execute(_guard(op.get_bind().dialect.name, table, deed))


def _guard(dialect: str, table: str, deed: str) -> str:
    name = f"{table}_no_{deed.lower()}"
    if dialect == "postgresql":
        return f"CREATE TRIGGER {name} BEFORE {deed} ON {table} FOR EACH ROW EXECUTE FUNCTION only_added()"
    return (
        f"CREATE TRIGGER {name} BEFORE {deed} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'the ledger is only added to'); END"
    )


def downgrade() -> None:
    """There is no way back that keeps what was recorded."""
    raise RuntimeError("the first step of the ledger cannot be taken back")
