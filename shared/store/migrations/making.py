"""How migrations make tables and columns: portable types, strict on SQLite."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL = sa.Float(53).with_variant(sa.REAL(), "sqlite")


def whole(name: str, *, null: bool = False) -> sa.Column[int]:
    """Return a column of whole numbers."""
    return sa.Column(name, WHOLE, nullable=null)


def text(name: str, *, null: bool = False) -> sa.Column[str]:
    """Return a column of text."""
    return sa.Column(name, sa.Text(), nullable=null)


def number(name: str = "no") -> sa.Column[int]:
    """Return a running number as the key."""
    return sa.Column(name, WHOLE, primary_key=True, autoincrement=True, nullable=False)


def create(name: str, *parts: sa.schema.SchemaItem, numbered: bool = False) -> None:
    """Make a table; `numbered`: its numbers are never used again."""
    op.create_table(name, *parts, sqlite_strict=True, sqlite_autoincrement=numbered)
