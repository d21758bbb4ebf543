"""The interface for other software, wired: its parts from the service's."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from cure.dashboard.api_door import ApiParts
from cure.dashboard.asked import Parts
from cure.dashboard.record import numbered
from deploy.exporting import SHEETS, Wanted
from deploy.metrics import metrics
from deploy.status import CAUTION_LINE
from deploy.table_files import written, zone_of
from deploy.tables_out import csv_lines
from deploy.wiring import Service
from shared.models.base import Ms


def api_parts(service: Service, parts: Parts, stale_s: Mapping[str, Callable[[], float]]) -> ApiParts:
    """Return what the interface is made of.

    Args:
        service: whose stores are read.
        parts: of the pages; what is done goes through the same `apply`.
        stale_s: seconds since each loop of the service last turned.
    """
    board, readings = service.book.board, service.readings

    def table(name: str, begin: Ms, end: Ms, bays: tuple[str, ...]) -> Iterator[str]:
        sheet = SHEETS[name](board, readings, Wanted(begin, end, (), bays))
        return csv_lines(sheet.columns, sheet.rows, board.site().site.zone)

    def table_file(name: str, begin: Ms, end: Ms, bays: tuple[str, ...]) -> Iterator[bytes]:
        of, _, _ = name.partition(".")
        sheet = SHEETS[of](board, readings, Wanted(begin, end, (), bays))
        return written(name, sheet, zone_of(board))

    def record(number: int, address: str) -> bytes:
        return parts.printer.record(numbered(board, number), address)

    return ApiParts(
        parts,
        service.book.tokens,
        readings,
        table,
        table_file,
        record,
        lambda now: metrics(board, now, stale_s),
        CAUTION_LINE,
    )
