"""Copies what else a site keeps in its data folder: pictures, anchors, receipts, what its own broker still holds."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from filecmp import cmp
from pathlib import Path
from typing import Final

from deploy import control, reserve, restored, restoring
from deploy.backup import Told, names_of
from deploy.restored import sync
from shared.errors import SlabError
from shared.store.book_moving import MOVING

_STORES: Final = tuple(f"{name}{more}" for name in names_of("sqlite") for more in (*restoring.BESIDE, ".lock"))
LEFT: Final = frozenset({*_STORES, "lock", control.NAME, reserve.FILE, restored.FILE, restoring.PART, MOVING})
"""The stores are copied row by row; the rest belongs to a process, or to one folder."""
_ASIDE: Final = "replaced-"
_PART: Final = ".moving"
_MIB: Final = 2**20


def copied(source: Path, target: Path) -> bool:
    """Copy a file durably, whole or not at all; return whether it was not there yet.

    Raises:
        OSError: it could not be copied.
        SlabError: another file of that name is there.
    """
    if target.exists():
        if cmp(source, target, shallow=False):
            return False
        raise SlabError(f"{target} is another file than {source}, and was left as it is: move it away first")
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = target.with_name(f"{target.name}{_PART}")
    with source.open("rb") as read, part.open("wb") as written:
        os.fchmod(written.fileno(), source.stat().st_mode & 0o777)
        shutil.copyfileobj(read, written, _MIB)
        written.flush()
        os.fsync(written.fileno())
    part.rename(target)
    sync(target.parent)
    return True


def copy_folder(data: Path, to: Path, told: Told) -> int:
    """Copy what a data folder holds besides the stores into another; return how many files were not there yet.

    Raises:
        OSError: one could not be copied.
        SlabError: another file of that name is there.
    """
    files, number = list(_files(data)), 0
    for done, path in enumerate(files):
        told("files", done / len(files))
        number += copied(path, to / path.relative_to(data))
    told("files", 1.0)
    return number


def _files(data: Path) -> Iterator[Path]:
    for path in sorted(data.rglob("*")):
        top = path.relative_to(data).parts[0]
        # Not what stands for a process, and not what a copy that was stopped left.
        if top not in LEFT and not top.startswith(_ASIDE) and path.is_file() and path.suffix != _PART:
            yield path
