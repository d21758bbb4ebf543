"""Anchors of the site's log, kept beside the book: (number, hash) of its newest line, one JSON object a line.

An old copy of the book, or a book with lines taken away, does not hold the newest anchor. In the data folder they tell
this of the book alone; on another disk also when the whole folder is an old copy.

When a person has accepted an older book, the anchor of its newest line takes the place of those beyond it: a line with
`restored`. What it replaces stays in the file.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeAlias

from shared.errors import StoreError
from shared.models.base import Ms
from shared.models.setup import Setup

FILE: Final = "anchors.jsonl"
KEPT: Final = 1_000
"""Anchors that are looked at: the newest vouches for every line before it."""
Anchor: TypeAlias = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Anchors:
    """The file."""

    path: Path

    def read(self) -> tuple[Anchor, ...]:
        """Return the newest anchors, oldest first. Raises `StoreError` for a file that cannot be read or understood."""
        try:
            lines = self.path.read_text(encoding="ascii").splitlines()
            # A line may have been cut off by a power failure.
            whole = [line for line in lines if line.endswith("}")]
            found: list[Anchor] = []
            for line in map(json.loads, whole[-KEPT:]):
                anchor = int(line["seq"]), str(line["hash"])
                if line.get("restored"):
                    found = [one for one in found if one[0] <= anchor[0]]
                found.append(anchor)
            return tuple(found)
        except FileNotFoundError:
            return ()
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise StoreError(f"the anchors in {self.path} cannot be read: {error}") from error

    def add(self, anchor: Anchor, at_ms: Ms, *, restored: bool = False) -> None:
        """Write an anchor durably; `restored`: it replaces those beyond it. Raises `StoreError`."""
        more = {"restored": True} if restored else {}
        line = json.dumps({"at_ms": at_ms, "seq": anchor[0], "hash": anchor[1], **more}) + "\n"
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("a+", encoding="ascii") as file:
                # Behind a line that was cut off a new one begins.
                file.write(line if self._ends_whole() else "\n" + line)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise StoreError(f"no anchor can be written to {self.path}: {error}") from error

    def _ends_whole(self) -> bool:
        with self.path.open("rb") as file:
            end = file.seek(0, os.SEEK_END)
            if end == 0:
                return True
            file.seek(end - 1)
            return file.read(1) == b"\n"


def anchors_of(setup: Setup, data_folder: Path) -> Anchors:
    """Return the anchors of a site."""
    named = setup.site.site.anchors
    return Anchors(data_folder / FILE if named is None else Path(setup.folder, named))
