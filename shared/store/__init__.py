"""The two stores: readings (time series) and the site book (everything set up, decided and told)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from shared.errors import StoreError
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.ports import BoardBook, ForecastBook, Readings, ReadingsServer, Share, TokenBook, WeatherBook

if TYPE_CHECKING:
    from shared.store.book import SiteBook
    from shared.store.copying import CopiedTable

READINGS: Final[dict[str, str]] = {
    "influxdb": "shared.store.readings_influx:open_readings",
    "sqlite": "shared.store.readings_sqlite:open_readings",
}
"""Stores of readings by the kind that a site file names; imported only when chosen."""
SERVERS: Final[dict[str, str]] = {"influxdb": "shared.store.influx_setup:InfluxSetup"}
"""Those of them that are servers of the site's, to be looked at and set up."""
BOOKS: Final[dict[str, str]] = {
    "postgresql": "shared.store.book:open_postgresql",
    "sqlite": "shared.store.book:open_sqlite",
}
"""Site books by kind."""


def _opener(table: Mapping[str, str], kind: str) -> Any:
    if kind not in table:
        raise StoreError(f"there is no store of kind {kind}: use one of {', '.join(sorted(table))}")
    module, _, name = table[kind].partition(":")
    return getattr(import_module(module), name)


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"cannot use the data folder {folder}: {error}") from error
    return folder


def open_readings(setup: Setup, folder: Path) -> Readings:
    """Open the readings: in a data folder, made if they are not there, or on the server that the set-up names.

    A server need not answer yet: each use of it says so for itself.
    """
    opened = _opener(READINGS, setup.site.stores.readings.kind)
    return cast("Readings", opened(setup, _made(folder), writer=True))


def readings_server(setup: Setup) -> ReadingsServer | None:
    """Return the server that the readings are on; None: they are in the data folder."""
    kind = setup.site.stores.readings.kind
    return cast("ReadingsServer", _opener(SERVERS, kind)(setup)) if kind in SERVERS else None


def read_readings(setup: Setup, folder: Path) -> Readings:
    """Open the readings, in a data folder or on a server, strictly to read, beside a running service or without one."""
    return cast("Readings", _opener(READINGS, setup.site.stores.readings.kind)(setup, folder, writer=False))


def open_book(setup: Setup, folder: Path, now: Ms) -> SiteBook:
    """Open the site book in a data folder, made if it is not there, and accept the set-up."""
    return cast("SiteBook", _opener(BOOKS, setup.site.stores.book.kind)(setup, _made(folder), now))


def join_book(setup: Setup) -> SiteBook:
    """Open the site book on its server beside a service that keeps it. Raises `StoreError`: it is a file, or has no
    service's set-up, or another one.
    """
    from shared.store import book

    return book.join(setup)


def open_share(setup: Setup) -> Share:
    """Return what part of the pours is this process's: of a book in a file all of them."""
    from shared.store import book

    return book.share(setup)


def read_board(setup: Setup | None, folder: Path) -> AbstractContextManager[BoardBook]:
    """Open the board strictly to read, beside a running service or without one; without a set-up, of a copy."""
    from shared.store import book

    return book.read_board(setup, folder)


def read_tokens(setup: Setup, folder: Path) -> AbstractContextManager[TokenBook]:
    """Open the tokens strictly to read, beside a running service or without one."""
    from shared.store import book

    return book.read_tokens(setup, folder)


def read_weather(setup: Setup, folder: Path) -> AbstractContextManager[WeatherBook]:
    """Open the weather strictly to read."""
    from shared.store import book

    return book.read_weather(setup, folder)


def read_forecasts(setup: Setup, folder: Path) -> AbstractContextManager[ForecastBook]:
    """Open the forecasts on file strictly to read."""
    from shared.store import book

    return book.read_forecasts(setup, folder)


def has_book(setup: Setup | None, folder: Path) -> bool:
    """Say whether a site has a book yet, in its data folder or on its server."""
    from shared.store import book

    return book.has_book(setup, folder)


def copy_book(setup: Setup | None, folder: Path, to: Path) -> None:
    """Copy a site's book as it is at one moment, beside a running service or without one, into a file in `to`."""
    from shared.store import book_moving

    book_moving.copy_book(setup, folder, to)


def move_book(
    setup: Setup, folder: Path, to: Setup, to_folder: Path, told: Callable[[str, float], None]
) -> Sequence[CopiedTable]:
    """Copy a site's book to where another site file keeps it, all or nothing; say what arrived.

    Raises:
        StoreError: another book is there, or what arrived is not what was sent.
    """
    from shared.store import book_moving

    return book_moving.move_book(setup, folder, to, _made(to_folder), told)


def refuse_others(setup: Setup) -> None:
    """Raise `LockedError` while another process of ours, on any host, is connected to a site's book on a server."""
    from shared.store import book_moving

    book_moving.refuse_others(setup)


def ready_book(copied: Path, setup: Setup) -> None:
    """Bring a copied book to this version's tables, and look whether a site's server may take it in: else `StoreError`.

    Args:
        copied: the folder that the copy is in; it is written.
        setup: of a site whose book is on a server.
    """
    from shared.store import book_moving

    book_moving.ready_book(copied, setup)


def put_book_aside(setup: Setup, name: str) -> str | None:
    """Put the book on a site's server into a schema of its own there; return its name, None: there was no book."""
    from shared.store import book_moving

    return book_moving.put_book_aside(setup, name)


def put_book(copied: Path, setup: Setup) -> None:
    """Copy a book that is ready to a site's server that has none: all or nothing."""
    from shared.store import book_moving

    book_moving.put_book(copied, setup)


def verify_log(setup: Setup | None, folder: Path, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
    """Return (lines, newest hash) of a site's log; without a set-up, of the copy in `folder`.

    Raises:
        StoreError: it was changed, or lacks an anchor (number, hash) that was kept elsewhere.
    """
    from shared.store import book

    return book.verify_log(setup, folder, anchors)


def log_head(setup: Setup | None, folder: Path) -> tuple[int, str]:
    """Return (number, hash) of the newest line of a site's log, of a copy without a set-up; (0, ""): none."""
    from shared.store import book

    return book.log_head(setup, folder)
