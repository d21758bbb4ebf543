"""Files to import, and the import of one into the little site."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

from deploy_support import START_MS

from deploy.importing import CHUNK_ROWS, import_file
from deploy.receipts import Receipt, Receipts, new_receipt
from deploy.wiring import Service
from shared.models.acts import instant
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.files import ColumnMap
from shared.models.readings import Reason

LONG: Final = ColumnMap(time="time", sensor="id", value="temp", unit="degC")
NOW_MS: Final[Ms] = START_MS + 30 * HOUR_MS
"""When the little site imports."""
OPTIONS: Final = ("--time", "time", "--sensor", "id", "--value", "temp", "--unit", "degC")
COUNTS: Final = ("stored", "repeated", "colder", "warmer", "blank")


def at(minute: float, from_ms: Ms = START_MS) -> str:
    """Return an hour as a file has it."""
    return instant(from_ms + round(minute * MINUTE_MS)).isoformat()


def write_rows(path: Path, rows: Sequence[str]) -> Path:
    """Write a long table."""
    path.write_text("\n".join(["time,id,temp", *rows]) + "\n", encoding="utf-8")
    return path


def odd_rows() -> list[str]:
    """Return rows of which each kind of fate has some."""
    good = [f"{at(15 * n)},lg-01.{1 + n % 2},{18 + n / 100}" for n in range(40)]
    again = [good[3], good[4].rpartition(",")[0] + ",17.5", good[5].rpartition(",")[0] + ",19.5"]
    wrong = [
        f"{at(0)},lg-01.1,warm",
        f"{at(0)},lg-01.1,nan",
        f"{at(0)},lg-01.1",
        f'{at(0)},"lg-01.1,18',
        f"{at(0)},lg-77.1,18",
        f"{at(0)},=cmd(),18",
        f"{at(0)},lg-01.2,250",
        f"{at(100 * 60)},lg-01.1,18",
        f"{at(100 * 60)},lg-01.1,18",
        f"{at(-30 * 24 * 60)},lg-01.1,18",
        "2026-11-24 08:40,lg-01.1,18",
    ]
    return [*good[:20], *wrong[:5], *again, *good[20:], *wrong[5:], *good[:2]]


def take(
    service: Service,
    path: Path,
    columns: ColumnMap = LONG,
    *,
    receipt: Receipt | None = None,
    stopped: Callable[[], bool] = lambda: False,
    chunk_rows: int = CHUNK_ROWS,
) -> Receipt:
    """Import a file into a service."""
    return import_file(
        path,
        receipt or new_receipt(path, columns, service.clock.now()),
        Receipts(service.folder),
        (service.readings, service.book.ingest),
        service.intake.beside,
        stopped=stopped,
        told=lambda _: None,
        chunk_rows=chunk_rows,
    )


def counts(receipt: Receipt) -> dict[str, Any]:
    """Return how many rows had which fate."""
    found = {name: receipt.total(name) for name in COUNTS if receipt.total(name)}
    for tally in receipt.sensors.values():
        for reason, number in tally.refused.items():
            found[reason] = found.get(reason, 0) + number
    return found


FATES: dict[str, Any] = {
    "stored": 40,
    "repeated": 3,
    "colder": 1,
    "warmer": 1,
    Reason.SCHEMA: 4,
    Reason.NOT_FINITE: 1,
    Reason.UNKNOWN_SENSOR: 2,
    Reason.RANGE: 1,
    Reason.CLOCK_FUTURE: 2,
    Reason.CLOCK_PAST: 1,
}
"""Of `odd_rows`, counted by hand."""


def stored(service: Service, sensor: str) -> list[tuple[int, int]]:
    """Return the stored readings of a sensor."""
    return [(r.taken_ms, r.milli_c) for r in service.readings.rows(SensorId(sensor), 0, NOW_MS)]
