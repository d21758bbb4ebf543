"""Putting a backup in the place of a site's stores. Whoever runs it stops the service first.

What was there is put aside, never deleted. The mark is written before anything is moved: after a crash at any step the
service finds it, suspends every gate, and accepts nothing but the stores that the mark names.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from deploy.backup import Told, found_in, names_of, quietly, verified
from deploy.folders import data_folder
from deploy.restored import Restored, mark, sync
from shared.errors import SlabError, StoreError
from shared.models.acts import instant
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.store import has_book, put_book, put_book_aside, ready_book
from shared.store.database_sqlite import FILE as BOOK
from shared.store.lock import DataLock
from shared.store.photos import copy_missing

PART: Final = ".restoring"
BESIDE: Final = ("-wal", "-shm", "")
"""What belongs to a store's file: its log and the index of that. A log must not be left for another file to take in."""


@dataclass(frozen=True, slots=True)
class Done:
    """What a restore did."""

    backup: Path
    backup_ms: Ms
    seq: int
    """The newest line of the log."""
    aside: Path | None
    """Where the files are that were there before."""
    schema: str | None
    """Where the book is that was on the server before."""


def chosen(path: Path, site: str) -> Path:
    """Return a backup, or the newest one of a site in a folder of them. Raises `StoreError` when there is none."""
    if (path / "backup.json").is_file():
        return path
    found = found_in(path, site)
    if not found:
        raise StoreError(f"{path} is no backup, and there is none of site {site} in it")
    return found[-1]


def restore(setup: Setup, path: Path, now: Ms, *, replace: bool, told: Told = quietly) -> Done:
    """Put a backup in place.

    Args:
        setup: of the site that it is of.
        path: a backup, or a folder of them: then the newest.
        now: the hour.
        replace: the stores that are there are put aside; without it they are not touched.
        told: how far it is.

    Raises:
        LockedError: the service runs.
        StoreError: it is not whole, of another site, of other stores, or there are stores already.
    """
    data, backup = data_folder(setup), chosen(path, setup.site.site.id)
    with DataLock(data):
        about = verified(backup, told)
        kind = setup.site.stores.readings.kind
        if about.site != setup.site.site.id:
            raise StoreError(f"{backup} is of site {about.site}, not of {setup.site.site.id}")
        if about.readings != kind:
            raise StoreError(
                f"{backup} was made with readings in {about.readings}, and [stores] of the site file says {kind}: "
                "name the same store there first"
            )
        served = setup.site.stores.book.kind != "sqlite"
        there = [one.name for one in _there(data)]
        there += ["the site book on the server"] if served and has_book(setup, data) else []
        if there and not replace:
            raise SlabError(
                f"there are stores in {data} already ({', '.join(there)}), and nothing was written: "
                "--replace puts them aside and this backup in their place"
            )
        restored = Restored(now, about.at_ms, about.seq, about.hash)
        try:
            put = _put_on_server if served else _put
            aside, schema = put(setup, data, _ready(data, backup, names_of(kind)), names_of(kind), restored)
            shutil.rmtree(data / PART)
            sync(data)
        except OSError as error:
            raise StoreError(
                f"the backup could not be put into {data}: {error.strerror}; do it again with --replace"
            ) from error
    return Done(backup, about.at_ms, about.seq, aside, schema)


def _there(data: Path) -> list[Path]:
    # Also readings of a site that keeps them elsewhere now: they are its own.
    every = (data / f"{name}{more}" for name in names_of("sqlite") for more in BESIDE)
    return [path for path in every if path.exists()]


def _ready(data: Path, backup: Path, names: tuple[str, ...]) -> Path:
    """Copy a backup to the disk that it is to be on, and its pictures; nothing that was there is touched."""
    part = data / PART
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(mode=0o700)
    for name in names:
        shutil.copyfile(backup / name, part / name)
        (part / name).chmod(0o600)
        _durable(part / name)
    # Those that are there stay: a picture is the same in every copy.
    copy_missing(backup.parent, data)
    return part


def _put(_setup: Setup, data: Path, part: Path, names: tuple[str, ...], restored: Restored) -> tuple[Path | None, None]:
    mark(data, restored)
    aside = _aside(data, restored.at_ms)
    # The book last: it alone has the line that the mark names, so that nobody can accept it without its readings.
    for name in reversed(names):
        (part / name).rename(data / name)
    return aside, None


def _put_on_server(
    setup: Setup, data: Path, part: Path, names: tuple[str, ...], restored: Restored
) -> tuple[Path | None, str | None]:
    # Whatever refuses this backup refuses it here, before anything is moved.
    ready_book(part, setup)
    mark(data, restored)
    try:
        # The old book first: it may have the line that the mark names, and must not be met with the new readings.
        schema = put_book_aside(setup, _stamp(restored.at_ms))
        aside = _aside(data, restored.at_ms)
        for name in names:
            if name != BOOK:
                (part / name).rename(data / name)
        sync(data)
        put_book(part, setup)
    except StoreError as error:
        raise StoreError(
            f"the site book could not be put on the server: {error}. Nothing is lost, and every gate is suspended: "
            "do it again with --replace"
        ) from error
    return aside, schema


def _stamp(now: Ms) -> str:
    return f"replaced-{instant(now):%Y%m%dT%H%M%S}Z"


def _aside(data: Path, now: Ms) -> Path | None:
    there = _there(data)
    if not there:
        return None
    stamp = _stamp(now)
    number, aside = 1, data / stamp
    while aside.exists():
        number, aside = number + 1, data / f"{stamp}-{number + 1}"
    aside.mkdir(mode=0o700)
    for path in there:
        path.rename(aside / path.name)
    sync(aside)
    return aside


def _durable(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
