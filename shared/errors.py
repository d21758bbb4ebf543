"""What a caller cannot go on from.

SlabError                 root: every error that a person may see
|- SetupError             the site file or a calibration is wrong; carries every fault found
|- StoreError             a store cannot be opened, read or written
|  |- LockedError         another process owns the data folder
|  |- RejectedError       some readings will never be taken, all others of the batch are durable
|  `- MovedError          the state kept changing under a judgement; later is another chance
|- BrokerError            the broker cannot be started or reached
|- WebError               the web server cannot be started
|- MissingExtraError      an optional package is not installed; names the extra that brings it
|- NewSiteError           a new site, or what belongs to one, cannot be made; nothing was written over
|- RecordError            there is nothing to make a record of; says what there is
`- ActRefusedError        a person's act cannot be accepted now; says why and what to do
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shared.models.readings import Conflict, Reading


class SlabError(Exception):
    """Root of ours; its text is written for the person who reads it."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a file: where, what was found, what is allowed."""

    file: str
    line: int | None
    field: str
    found: str
    allowed: str

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{where}: {self.field}: found {self.found}; allowed: {self.allowed}"


class SetupError(SlabError):
    """A set-up file has faults; all of them are here."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))


class StoreError(SlabError):
    """A store failed; nothing was half done."""


class LockedError(StoreError):
    """Another process owns the data folder."""


class RejectedError(StoreError):
    """Some readings of a batch will never be taken by the store; all others are durable."""

    def __init__(self, rejected: Sequence[tuple[Reading, str]], conflicts: Sequence[Conflict]) -> None:
        """`rejected` says why of each; `conflicts` is what `merge` would have returned for the others."""
        self.rejected = tuple(rejected)
        self.conflicts = tuple(conflicts)
        super().__init__(f"{len(self.rejected)} readings are not taken: {self.rejected[0][1]}")


class MovedError(StoreError):
    """What was judged moved under it every time; later it will hold still."""


class BrokerError(SlabError):
    """The broker cannot be started or reached."""


class WebError(SlabError):
    """The web server cannot be started."""


class MissingExtraError(SlabError):
    """An optional package is not installed."""

    def __init__(self, extra: str) -> None:
        super().__init__(
            f"this needs the extra {extra}, which is not installed: pip install -e '.[{extra}]' in the checkout"
        )


class TooManyRowsError(SlabError):
    """A table has more rows than a file of its kind holds."""


class ActRefusedError(SlabError):
    """The act cannot be accepted now."""


class NewSiteError(SlabError):
    """A new site, or something that belongs to one, cannot be made."""


class RecordError(SlabError):
    """There is nothing to make a record of."""


class PlanError(SlabError):
    """Nothing can be said of a pour that is not placed yet."""
