"""How tables and columns of the site book are made: portable types, strict on SQLite."""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import REAL, BigInteger, Column, Float, ForeignKey, Integer, MetaData, Table, Text

METADATA: Final = MetaData()

# STRICT tables of SQLite know INTEGER, REAL, TEXT and BLOB only.
Whole: Final = BigInteger().with_variant(Integer(), "sqlite")
Real: Final = Float(53).with_variant(REAL(), "sqlite")


def number() -> Column[int]:
    """Return a running number that is never used again."""
    return Column("no", Whole, primary_key=True, autoincrement=True)


def whole(name: str, *, null: bool = False) -> Column[int]:
    """Return a column of whole numbers."""
    return Column(name, Whole, nullable=null)


def text(name: str, *, null: bool = False) -> Column[str]:
    """Return a column of text."""
    return Column(name, Text, nullable=null)


def of_pour() -> Column[str]:
    """Return the column that says which pour a row is of."""
    return Column("pour", Text, ForeignKey("pour.id"), nullable=False)


def table(name: str, *parts: Any, numbered: bool = False) -> Table:
    """Return a table; `numbered`: its numbers are never used again."""
    return Table(name, METADATA, *parts, sqlite_strict=True, sqlite_autoincrement=numbered)
