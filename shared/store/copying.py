"""Copies a whole site book from one database into another that is empty, of whatever kind either is.

Everything goes in one transaction of either side, so that what arrives is the book of one moment, whole, or nothing.
Then each table is read again on both sides and held against the other by count and digest.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import zip_longest
from typing import Any, Final, TypeAlias

from sqlalchemy import Connection, Table, func, select, text

from shared.errors import StoreError
from shared.store import schema
from shared.store.codec import canonical
from shared.store.database import Database
from shared.store.tables import METADATA

_AT_ONCE: Final = 1_000
Told: TypeAlias = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class CopiedTable:
    """What arrived of a table, as it was read again."""

    name: str
    rows: int
    digest: str
    """SHA-256 over the rows in the order of their keys."""


def _quietly(_table: str, _fraction: float) -> None:
    """Tell nobody."""


def copy(source: Database, target: Database, told: Told = _quietly) -> list[CopiedTable]:
    """Copy every row and running number; a copy that is there already is read again and held against it.

    Args:
        source: of this version's tables.
        target: without a book, or with this very one.
        told: with each table and the fraction done; what it raises ends the work, and nothing is left of it.

    Raises:
        StoreError: the target has another book, or what arrived is not what was sent: nothing is left of it.
    """
    with source.reading() as here, target.writing() as there:
        schema.check(here)
        if schema.is_there(there):
            return _there_already(here, there, told)
        schema.migrate(there)
        tables = METADATA.sorted_tables
        for number, table in enumerate(tables):
            told(table.name, number / len(tables) / 2)
            for rows in _pages(here, table):
                there.execute(table.insert(), rows)
            if _numbered(table):
                _go_on_from(there, table, _last_number(here, table))
        return _every_one_compared(here, there, told)


def _there_already(here: Connection, there: Connection, told: Told) -> list[CopiedTable]:
    try:
        schema.check(there)
        return _every_one_compared(here, there, told)
    except StoreError as error:
        raise StoreError("there is another site book at the other end: a copy goes into an empty one only") from error


def _pages(connection: Connection, table: Table) -> Iterator[list[dict[str, Any]]]:
    asked = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=_AT_ONCE)
    for page in connection.execute(asked).mappings().partitions():
        yield [dict(row) for row in page]


def _every_one_compared(here: Connection, there: Connection, told: Told) -> list[CopiedTable]:
    tables, found = METADATA.sorted_tables, []
    for number, table in enumerate(tables):
        told(table.name, 0.5 + number / len(tables) / 2)
        found.append(_compared(here, there, table))
    told("", 1.0)
    return found


def _compared(here: Connection, there: Connection, table: Table) -> CopiedTable:
    sent, arrived = _Read(), _Read()
    # A page of one side, a page of the other: a server cuts a reader off that asks nothing for some seconds.
    for mine, theirs in zip_longest(_pages(here, table), _pages(there, table), fillvalue=()):
        sent.add(mine)
        arrived.add(theirs)
    if (sent.rows, sent.digest.digest()) != (arrived.rows, arrived.digest.digest()):
        raise StoreError(f"what arrived of the table {table.name} is not what was sent: nothing was kept of it")
    return CopiedTable(table.name, arrived.rows, arrived.digest.hexdigest())


class _Read:
    """What was read of a table so far."""

    def __init__(self) -> None:
        self.rows = 0
        self.digest = sha256()

    def add(self, page: Sequence[Mapping[str, Any]]) -> None:
        for row in page:
            values = [value.hex() if isinstance(value, bytes) else value for value in row.values()]
            self.digest.update(canonical(values).encode("utf-8", "surrogatepass") + b"\n")
        self.rows += len(page)


# A number is never used again, also when its row is gone: so where the count stands is part of the book.


def _numbered(table: Table) -> bool:
    return bool(table.dialect_options["sqlite"]["autoincrement"])


def _last_number(connection: Connection, table: Table) -> int:
    if connection.dialect.name == "sqlite":
        kept = text("SELECT seq FROM sqlite_sequence WHERE name = :name")
        return int(connection.scalar(kept, {"name": table.name}) or 0)
    (key,) = table.primary_key.columns
    sequence = connection.scalar(select(func.pg_get_serial_sequence(table.name, key.name)))
    # The name comes from the server, quoted where it has to be.
    last, used = connection.execute(text(f"SELECT last_value, is_called FROM {sequence}")).one()  # noqa: S608
    return int(last) if used else 0


def _go_on_from(connection: Connection, table: Table, last: int) -> None:
    if last == 0:
        return
    if connection.dialect.name == "sqlite":
        values = {"name": table.name, "last": last}
        if connection.execute(text("UPDATE sqlite_sequence SET seq = :last WHERE name = :name"), values).rowcount == 0:
            connection.execute(text("INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :last)"), values)
        return
    (key,) = table.primary_key.columns
    connection.execute(select(func.setval(func.pg_get_serial_sequence(table.name, key.name), last)))
