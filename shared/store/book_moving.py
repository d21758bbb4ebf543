"""Copies of a whole site book: into a file, onto a server, aside, and out of the way of other processes."""

from __future__ import annotations

import shutil
from contextlib import closing
from pathlib import Path
from threading import Event
from typing import Final

from shared.errors import LockedError, StoreError
from shared.models.setup import Setup
from shared.store import copying, schema, sqlite_care
from shared.store.book import is_on_server, on_server, reading, writable_server
from shared.store.database import Database
from shared.store.database_sqlite import FILE, SqliteDatabase

LEAVES_S: Final = 3.0
"""How long a connection that has just been closed may still be known to the server."""
LEAVES_AT_ONCE: Final = 30
"""Looks in that time."""
MOVING: Final = ".moving"
"""A folder in the data folder, while a book is copied into it."""


def copy_book(setup: Setup | None, folder: Path, to: Path) -> None:
    """Copy a site's book, as it is at one moment, into `site.db` in the folder `to`."""
    if setup is None or not is_on_server(setup):
        sqlite_care.copy(folder / FILE, to / FILE)
        return
    with closing(on_server(setup, writer=False)) as source, closing(SqliteDatabase(to)) as target:
        copying.copy(source, target)
    sqlite_care.alone(to / FILE)


def move_book(setup: Setup, folder: Path, to: Setup, to_folder: Path, told: copying.Told) -> list[copying.CopiedTable]:
    """Copy a site's book to where another site file keeps it, which has none, or this very one already.

    Raises:
        StoreError: there is another book, or what arrived is not what was sent: nothing is left of it.
    """
    with reading(setup, folder) as source:
        if not is_on_server(to) and not (to_folder / FILE).is_file():
            return _moved_into_a_file(source, to_folder, told)
        with closing(writable_server(to) if is_on_server(to) else SqliteDatabase(to_folder)) as target:
            return copying.copy(source, target, told)


def _moved_into_a_file(source: Database, folder: Path, told: copying.Told) -> list[copying.CopiedTable]:
    # Apart, and renamed when it is whole: of a copy that was stopped there is no book, not even an empty one.
    part = folder / MOVING
    try:
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir(mode=0o700)
        with closing(SqliteDatabase(part)) as target:
            arrived = copying.copy(source, target, told)
        sqlite_care.alone(part / FILE)
        (part / FILE).rename(folder / FILE)
    except OSError as error:
        raise StoreError(f"the site book cannot be copied to {folder}: {error.strerror}") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return arrived


def refuse_others(setup: Setup) -> None:
    """Raise `LockedError` while another process of ours, on any host, is connected to a site's book on a server."""
    from shared.store.database_postgresql import others

    if not is_on_server(setup):
        return
    with closing(on_server(setup, writer=False)) as database:
        # One that has just ended is known to the server for some moments more.
        for _ in range(LEAVES_AT_ONCE + 1):
            with database.reading() as connection:
                found = others(connection)
            if not found:
                return
            Event().wait(LEAVES_S / LEAVES_AT_ONCE)
    raise LockedError(
        f"other slabhour processes are connected to the site book (from {', '.join(found)}): "
        "stop the service on every host first"
    )


def ready_book(copied: Path, setup: Setup) -> None:
    """Bring the book in `copied` to this version's tables, and look whether the server may take it in."""
    with closing(SqliteDatabase(copied)) as source, source.writing() as connection:
        schema.migrate(connection)
    refuse_others(setup)
    writable_server(setup).close()


def put_book_aside(setup: Setup, name: str) -> str | None:
    """Put the book on a site's server into a schema of its own there; return its name, None: there was no book."""
    from shared.store.database_postgresql import put_aside

    with closing(writable_server(setup)) as database, database.writing() as connection:
        return put_aside(connection, name) if schema.is_there(connection) else None


def put_book(copied: Path, setup: Setup) -> None:
    """Copy the book in `copied`, of this version's tables, to a site's server that has none: all or nothing."""
    with closing(SqliteDatabase(copied, writer=False)) as source, closing(writable_server(setup)) as target:
        copying.copy(source, target)
