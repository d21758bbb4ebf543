"""Brings the site book's tables to this version's, and refuses a book of a newer one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import Connection, inspect, text

from shared.errors import StoreError
from shared.store import new_book

if TYPE_CHECKING:
    from alembic.config import Config

REVISION: Final = "starts_before"
"""Of the newest migration: a book that has it, or none yet, is opened without Alembic, which is slow to import."""
_NEWER: Final = "the site book was made by a newer slabhour: install that version or a later one"


def _config() -> Config:
    from alembic.config import Config

    config = Config()
    # ConfigParser reads "%" in a path as the start of a name.
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if found is None else str(found)


def is_there(connection: Connection) -> bool:
    """Say whether tables of a site book, of any version, are there."""
    return _revision(connection) is not None


def migrate(connection: Connection) -> None:
    """Make a new book's tables, or run what an older one lacks, inside the caller's transaction: all or nothing."""
    revision = _revision(connection)
    if revision is None:
        new_book.make(connection, REVISION)
    elif revision != REVISION:
        _upgrade(connection, revision)


def _upgrade(connection: Connection, revision: str) -> None:
    if revision not in known():
        raise StoreError(_NEWER)
    upgrade(connection)


def upgrade(connection: Connection) -> None:
    """Run every migration that is missing: on an empty file all of them, which leaves what `new_book` makes."""
    from alembic import command
    from alembic.util import CommandError

    config = _config()
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, "head")
    except CommandError as error:
        raise StoreError(f"the site book's tables cannot be brought to this version: {error}") from error


def known() -> list[str]:
    """Return the revisions that this version has, newest first."""
    from alembic.script import ScriptDirectory

    return [script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()]


def check(connection: Connection) -> None:
    """Raise `StoreError` unless the tables are exactly this version's."""
    revision = _revision(connection)
    if revision == REVISION:
        return
    if revision is None or revision in known():
        raise StoreError("the site book has the tables of an older slabhour: start `slabhour serve` once")
    raise StoreError(_NEWER)
