"""What a site book stands on: transactions, one that writes at a time, and statements that every database knows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Final, Protocol, TypeVar

from sqlalchemy import ColumnElement, Connection, Table, literal
from sqlalchemy.dialects.postgresql import Insert, insert
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from shared.errors import StoreError
from shared.store import sqlite_care

_Name = TypeVar("_Name", bound=str)
_AT_ONCE: Final = 5_000
"""As many as one statement may name, with room to spare (SQLite: 32 766; PostgreSQL: 65 535)."""


class Database(Protocol):
    """Transactions on one site book. Whoever opened it closes it."""

    def writing(self) -> AbstractContextManager[Connection]:
        """Begin a write transaction; inside one of the same thread, a savepoint of it.

        One writes at a time, also of several processes: what is read inside is the newest, and stays it.
        """

    def reading(self) -> AbstractContextManager[Connection]:
        """Begin a read transaction: one snapshot. Inside `writing` of the same thread it sees what was written."""

    def tidy(self) -> str | None:
        """Do the regular upkeep; return what holds it back, or None."""

    def damage(self) -> str | None:
        """Return what the database finds damaged in itself, or None."""

    def close(self) -> None:
        """Give back every connection."""


@contextmanager
def our_errors(book: str, driver: type[Exception]) -> Iterator[None]:
    """Turn SQLAlchemy's errors and those of a driver into ours, which name the book."""
    try:
        yield
    except (SQLAlchemyError, OverflowError, driver) as error:
        # People read it, in the message about a doubt too: what the driver says, without the statement and its values,
        # which some drivers write below the first line.
        said = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
        first = str(said).partition("\n")[0]
        raise StoreError(f"{book}: {sqlite_care.said(first)}") from error


def inserting(table: Table) -> Insert:
    """Return an insert that knows `on_conflict_do_nothing` and `on_conflict_do_update`.

    SQLite took both clauses from PostgreSQL (sqlite.org/lang_upsert.html): SQLAlchemy writes this one for either.
    """
    return insert(table)


def among(column: ColumnElement[str], values: Iterable[str]) -> ColumnElement[bool]:
    """Return that a column is one of a few values that never change: no list to be written out at each execution."""
    return column.in_([literal(value) for value in values])


def named_at_once(names: Iterable[_Name]) -> Iterator[list[_Name]]:
    """Yield the names in order, each once, as many as one statement may name."""
    left = sorted(set(names))
    for begin in range(0, len(left), _AT_ONCE):
        yield left[begin : begin + _AT_ONCE]
