"""What an import did so far, kept in the data folder: by it a stopped import goes on, and a finished one is not done
again.
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final, TextIO

from pydantic import TypeAdapter, ValidationError

from deploy.cells import guarded
from ingest.columns import Wrong
from shared.errors import StoreError
from shared.models.base import Ms
from shared.models.files import ColumnMap
from shared.models.readings import Reason

FOLDER: Final = "imports"
EXAMPLES: Final = 20
NO_SENSOR: Final = ""
"""Stands for the sensor of a row that names none."""


@dataclass(slots=True)
class SensorTally:
    """What became of the rows of one sensor."""

    stored: int = 0
    """New readings."""
    repeated: int = 0
    """Already stored with this value."""
    colder: int = 0
    """Replaced a warmer value of the same time; the pair is kept as a conflict."""
    warmer: int = 0
    """A colder value of the same time stays; the pair is kept as a conflict."""
    blank: int = 0
    """Empty cells of a wide table."""
    refused: dict[Reason, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Example:
    """A refused row."""

    line: int
    sensor: str
    reason: Reason
    detail: str


@dataclass(slots=True)
class Receipt:
    """How far an import has come and what became of its rows."""

    id: str
    """Of the file's content and its map together."""
    file: str
    digest: str
    """SHA-256 of the file."""
    columns: ColumnMap
    began_ms: Ms
    """Site time: every row counts as received then, however often the import is stopped."""
    rows: int = 0
    """Rows of the file that are dealt with."""
    fraction: float = 0.0
    finished: bool = False
    sensors: dict[str, SensorTally] = field(default_factory=dict)
    examples: list[Example] = field(default_factory=list)
    refused_bytes: int = 0
    """Length of the list of refused rows that belongs to `rows`."""

    def of(self, sensor: str | None) -> SensorTally:
        """Return the tally of a sensor."""
        return self.sensors.setdefault(sensor or NO_SENSOR, SensorTally())

    def total(self, name: str) -> int:
        """Return the sum of a count over all sensors."""
        return sum(getattr(tally, name) for tally in self.sensors.values())

    @property
    def refused(self) -> int:
        """Refused rows, or cells of wide ones."""
        return sum(sum(tally.refused.values()) for tally in self.sensors.values())

    @property
    def worked(self) -> bool:
        """Whether the file gave any reading, or had no row that could."""
        return self.refused == 0 or any(self.total(name) for name in ("stored", "repeated", "colder", "warmer"))

    def numbers(self) -> dict[str, Any]:
        """Return what became of the rows, without what differs between two runs over the same stores."""
        return {"rows": self.rows, "sensors": asdict(self)["sensors"], "examples": asdict(self)["examples"]}


_RECEIPT: Final = TypeAdapter(Receipt)


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file's content."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def new_receipt(path: Path, columns: ColumnMap, began_ms: Ms) -> Receipt:
    """Return the receipt of an import of which nothing is done."""
    digest = digest_of(path)
    both = json.dumps([digest, columns.model_dump(mode="json")], sort_keys=True)
    return Receipt(hashlib.sha256(both.encode()).hexdigest()[:16], path.name, digest, columns, began_ms)


def to_json(receipt: Receipt) -> dict[str, Any]:
    """Return a receipt as JSON."""
    shown: dict[str, Any] = _RECEIPT.dump_python(receipt, mode="json")
    return shown


def write_json(path: Path, body: dict[str, Any]) -> None:
    """Replace a file by JSON, so that a crash leaves the old one or the new one."""
    beside = path.with_name(path.name + ".new")
    with beside.open("w", encoding="utf-8") as file:
        json.dump(body, file, indent=1, ensure_ascii=False)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


class Receipts:
    """The receipts in a data folder."""

    def __init__(self, data: Path) -> None:
        self._folder = data / FOLDER

    def path(self, name: str) -> Path:
        """Return the file of a receipt."""
        return self._folder / f"{name}.json"

    def load(self, name: str) -> Receipt | None:
        """Return a receipt that was saved. Raises `StoreError` when it cannot be read."""
        try:
            return _RECEIPT.validate_json(self.path(name).read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValidationError) as error:
            raise StoreError(f"{self.path(name)} is damaged; without it the import begins anew: {error}") from error

    def forget(self, name: str) -> None:
        """Take a receipt away: the import begins anew."""
        self.path(name).unlink(missing_ok=True)

    def refused(self, name: str) -> Path:
        """Return the list of refused rows of an import."""
        return self._folder / f"{name}.refused.csv"

    def save(self, receipt: Receipt) -> None:
        """Write a receipt down."""
        write_json(self.path(receipt.id), to_json(receipt))

    @contextmanager
    def refusals(self, receipt: Receipt) -> Iterator[Refusals]:
        """Lend the list of refused rows, cut back to what the receipt knows of."""
        self._folder.mkdir(mode=0o700, exist_ok=True)
        with self.refused(receipt.id).open("a", encoding="utf-8", newline="") as file:
            file.truncate(receipt.refused_bytes)
            yield Refusals(file, receipt)


class Refusals:
    """The list of refused rows, beside the receipt."""

    def __init__(self, file: TextIO, receipt: Receipt) -> None:
        self._file = file
        self._receipt = receipt
        self._table = csv.writer(file, lineterminator="\n")
        if receipt.refused_bytes == 0:
            self._table.writerow(("line", "sensor", "reason", "detail", "row"))
            self.flush()

    def write(self, wrong: Sequence[Wrong]) -> None:
        """Add refused rows."""
        for one in wrong:
            said = (one.sensor or NO_SENSOR, one.reason, one.detail, one.text)
            self._table.writerow((one.line, *map(guarded, said)))

    def flush(self) -> None:
        """Hand everything to the disk, and tell the receipt how much that is."""
        self._file.flush()
        self._receipt.refused_bytes = self._file.tell()
