"""Makes the tables of a new site book as they are declared, without Alembic, which takes ten times as long.

A test holds what is made here against what the migrations leave.
"""

from __future__ import annotations

from functools import cache
from typing import Final

from sqlalchemy import Connection
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.schema import CreateIndex, CreateTable

from shared.store.tables import METADATA

_DIALECTS: Final = {"sqlite": sqlite.dialect, "postgresql": postgresql.dialect}
_LOG_GROWS_ONLY: Final = {
    "sqlite": tuple(
        f"CREATE TRIGGER log_no_{change.lower()} BEFORE {change} ON log "
        "BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END"
        for change in ("UPDATE", "DELETE")
    ),
    "postgresql": (
        """CREATE FUNCTION log_append_only() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'the log is append-only'; END $$""",
        """CREATE TRIGGER log_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON log
        FOR EACH STATEMENT EXECUTE FUNCTION log_append_only()""",
    ),
}
_VERSION: Final = (
    "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, "
    "CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))"
)


@cache
def _statements(name: str) -> tuple[str, ...]:
    dialect, made = _DIALECTS[name](), [_VERSION]
    for table in METADATA.sorted_tables:
        made.append(str(CreateTable(table).compile(dialect=dialect)))
        indexes = sorted(table.indexes, key=lambda index: str(index.name))
        made += [str(CreateIndex(index).compile(dialect=dialect)) for index in indexes]
    return (*made, *_LOG_GROWS_ONLY[name])


def make(connection: Connection, revision: str) -> None:
    """Make every table inside the caller's transaction, and say that they are those of `revision`.

    Raises:
        sqlalchemy.exc.DBAPIError: one of them is there already; nothing is made then.
    """
    for statement in _statements(connection.dialect.name):
        connection.exec_driver_sql(statement)
    connection.exec_driver_sql(f"INSERT INTO alembic_version VALUES ('{revision}')")  # noqa: S608 - a name of our own
