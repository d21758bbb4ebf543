"""Copies of both stores as they are at one time, made beside a running service; each verified before it counts.

The site book is copied first: then every reading that a release of the copy rests on is in the copy of the readings. A
backup is a folder with the files and `backup.json`, which says what they must be; it appears whole or not at all.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, TypeAlias

from deploy.anchors import anchors_of
from deploy.folders import data_folder
from deploy.restored import marked, sync
from shared.errors import StoreError
from shared.models.acts import instant
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.store import copy_book, has_book, log_head, read_board, sqlite_care, verify_log
from shared.store.database_sqlite import FILE as BOOK
from shared.store.photos import copy_missing

ABOUT: Final = "backup.json"
READINGS: Final = "readings.db"
VERSION: Final = 1
RETAINED: Final = "retention"
"""What the log calls it when readings were forgotten."""
_PIECE: Final = 2**20
_STAMP: Final = "[0-9]" * 8 + "T" + "[0-9]" * 6 + "Z"
"""The hour, of a fixed width, ends a backup's name: a site's id may begin like another's."""
Told: TypeAlias = Callable[[str, float], None]
"""Called with the file and the fraction done; what it raises ends the work, and nothing is left of it."""


def quietly(_file: str, _fraction: float) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Backup:
    """What `backup.json` says."""

    version: int
    site: str
    at_ms: Ms
    """When the site book was copied."""
    seq: int
    hash: str
    """The newest line of its log."""
    readings: str
    """Kind of their store; only of "sqlite" are they in the backup."""
    files: Mapping[str, Mapping[str, Any]]
    """Name -> bytes, sha256."""


def names_of(kind: str) -> tuple[str, ...]:
    """Return the files of a backup, by the kind of the store of readings, in the order of copying."""
    return (BOOK, READINGS) if kind == "sqlite" else (BOOK,)


def elsewhere(setup: Setup) -> str | None:
    """Return where the readings' own backup is to come from, when they are not in the data folder."""
    readings = setup.site.stores.readings
    if readings.kind == "sqlite":
        return None
    return (
        f"the readings are in the InfluxDB at {readings.url}, bucket {readings.bucket}, and are not in this backup: "
        "back that up by its own means, after this one"
    )


def back_up(setup: Setup, to: Path, now: Ms, told: Told = quietly) -> Path:
    """Copy both stores into a new folder in `to`; return it.

    Args:
        setup: of the site; its service may run.
        to: a folder, made if it is not there.
        now: the hour, from which the new folder has its name.
        told: how far it is.

    Raises:
        StoreError: there is nothing to copy, it could not be copied, or the copy is not whole: nothing is left of it.
    """
    data = data_folder(setup)
    if not has_book(setup, data):
        raise StoreError(f"there is no site book in {data}: nothing to back up yet")
    if marked(data) is not None:
        raise StoreError(f"the stores in {data} are themselves a backup that nobody has accepted yet: resume first")
    name = f"{setup.site.site.id}-{instant(now):%Y%m%dT%H%M%S}Z"
    whole, part = to / name, to / f".{name}.part"
    try:
        to.mkdir(mode=0o700, parents=True, exist_ok=True)
        if part.exists():
            raise StoreError(f"another backup is being made in {to}: wait, or take {part} away")
        part.mkdir(mode=0o700)
    except OSError as error:
        raise StoreError(f"no backup can be written to {to}: {error.strerror}") from error
    try:
        about = _copied(setup, data, part, now, told)
        _write(part / ABOUT, about)
        sync(part)
        if whole.exists():
            raise StoreError(f"{whole} is there already")
        part.rename(whole)
        sync(to)
    except OSError as error:
        raise StoreError(f"no backup can be written to {to}: {error.strerror}") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return whole


def _copied(setup: Setup, data: Path, part: Path, now: Ms, told: Told) -> Backup:
    # Anchors first: what they vouch for is in a copy that is made afterwards.
    anchors = anchors_of(setup, data).read()
    kind = setup.site.stores.readings.kind
    names = names_of(kind)
    for name in names:
        if name == BOOK and setup.site.stores.book.kind != "sqlite":
            told(name, 0.0)
            copy_book(setup, data, part)
            told(name, 1.0)
        else:
            sqlite_care.copy(data / name, part / name, partial(told, name))
    # Pictures are never changed: one copy beside all backups, of whatever the copied book can name.
    copy_missing(data, part.parent)
    verify_log(None, part, anchors)
    seq, newest = log_head(None, part)
    with read_board(setup, data) as board:
        if any(entry.what == RETAINED for _, entry in board.log_after(seq)):
            raise StoreError("readings were forgotten while they were copied: make the backup again")
    files = {}
    for name in names:
        _refuse_damaged(part / name)
        files[name] = {"bytes": (part / name).stat().st_size, "sha256": _digest(part / name)}
    return Backup(VERSION, setup.site.site.id, now, seq, newest, kind, files)


def _refuse_damaged(file: Path) -> None:
    if (said := sqlite_care.damage(file)) is not None:
        raise StoreError(f"{file.name} is damaged: {said}; this copy is not kept, older backups are")


def _digest(file: Path) -> str:
    total = sha256()
    with file.open("rb") as opened:
        while piece := opened.read(_PIECE):
            total.update(piece)
    return total.hexdigest()


def _write(path: Path, about: Backup) -> None:
    with path.open("w", encoding="utf-8") as file:
        file.write(json.dumps(asdict(about), indent=1) + "\n")
        file.flush()
        os.fsync(file.fileno())


def found_in(folder: Path, site: str) -> list[Path]:
    """Return a site's backups in a folder, oldest first."""
    return sorted(path for path in folder.glob(f"{site}-{_STAMP}") if (path / ABOUT).is_file())


def prune(folder: Path, site: str, keep: int) -> list[Path]:
    """Take a site's oldest backups in a folder away, but for the newest `keep`, and halves; return them.

    Raises:
        StoreError: one could not be taken away.
    """
    whole = found_in(folder, site)
    old = whole[:-keep]
    # What a process that was killed left behind; one that is being made is newer than the newest.
    old += [part for part in folder.glob(f".{site}-{_STAMP}.part") if whole and part.name[1:] < whole[-1].name]
    try:
        for path in old:
            shutil.rmtree(path)
    except OSError as error:
        raise StoreError(f"an old backup cannot be taken away: {error.filename}: {error.strerror}") from error
    return old


def verified(path: Path, told: Told = quietly) -> Backup:
    """Return what a backup is, after all of it was read. Raises `StoreError` when it is not as it was made."""
    try:
        about = Backup(**json.loads((path / ABOUT).read_text(encoding="utf-8")))
        if about.version != VERSION:
            raise StoreError(f"{path} was made by a newer slabhour: install that version or a later one")
        if set(about.files) != set(names_of(about.readings)):
            raise StoreError(f"{path} is no whole backup: it names {', '.join(about.files) or 'no file'}")
        for name, file in about.files.items():
            told(name, 0.0)
            if (path / name).stat().st_size != file["bytes"] or _digest(path / name) != file["sha256"]:
                raise StoreError(f"{path / name} is not as it was copied: take another backup")
            told(name, 1.0)
    except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
        raise StoreError(f"{path} is no whole backup: {error}") from error
    for name in about.files:
        if (said := sqlite_care.damage(path / name)) is not None:
            raise StoreError(f"{path / name} is damaged: {said}; take another backup")
    verify_log(None, path, [(about.seq, about.hash)] if about.seq else [])
    return about
