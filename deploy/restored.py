"""The mark that `slabhour restore` leaves in a data folder: its stores are an older copy, until a person accepts that.

What was decided after the copy was made is not in it: a withdrawal may be forgotten. So the mark suspends every gate,
even when no anchor outside tells of anything newer.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from deploy.anchors import Anchor
from shared.errors import StoreError
from shared.models.base import Ms

FILE: Final = "restored.json"


@dataclass(frozen=True, slots=True)
class Restored:
    """Which copy was put in place."""

    at_ms: Ms
    """When it was put in place."""
    backup_ms: Ms
    """When it was made."""
    seq: int
    hash: str
    """The newest line of its log."""

    def reason(self, anchors: Sequence[Anchor]) -> str:
        """Return why every gate is suspended."""
        lost = max((seq for seq, _ in anchors), default=0) - self.seq
        known = f", of which {lost} lines of the log are known to be lost" if lost > 0 else ""
        return (
            f"the stores were restored from a backup that ends at log line {self.seq}: what was decided, signed, "
            f"withdrawn or stopped since is not in them{known}"
        )

    def within(self, anchors: Sequence[Anchor]) -> list[Anchor]:
        """Return what the log must hold all the same: older anchors, and its own newest line."""
        own = [(self.seq, self.hash)] if self.seq else []
        return [*(one for one in anchors if one[0] <= self.seq), *own]


def mark(folder: Path, restored: Restored) -> None:
    """Write the mark durably."""
    part = folder / f".{FILE}.part"
    with part.open("w", encoding="ascii") as file:
        file.write(json.dumps(asdict(restored)))
        file.flush()
        os.fsync(file.fileno())
    part.replace(folder / FILE)
    sync(folder)


def marked(folder: Path) -> Restored | None:
    """Return the mark in a folder, if there is one. Raises `StoreError` when it cannot be understood."""
    try:
        return Restored(**json.loads((folder / FILE).read_text(encoding="ascii")))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError) as error:
        raise StoreError(
            f"{folder / FILE} cannot be understood: a restore was not finished; do it again: {error}"
        ) from error


def unaccepted(folder: Path) -> list[str]:
    """Return what to say, before the board, of stores that nobody has accepted yet; the service may not run."""
    try:
        found = marked(folder)
    except StoreError as error:
        return [f"IN DOUBT: {error}"]
    if found is None:
        return []
    told = f"restored from an older copy, to log line {found.seq}, and accepted by nobody: nothing below is a release"
    return [f"IN DOUBT: {told} (`slabhour serve`, then `slabhour resume log`)"]


def accepted(folder: Path) -> None:
    """Take the mark away: a person has accepted the older stores."""
    (folder / FILE).unlink(missing_ok=True)
    sync(folder)


def sync(folder: Path) -> None:
    """Make names in a folder durable."""
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
