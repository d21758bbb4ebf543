"""Days ahead: at which hour each operation is expected, day by day. Pure. Expected, not released."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from cure.dashboard.board import in_order, is_stopped
from cure.dashboard.expected import WAITS, expected_ms
from cure.dashboard.reader import Reader
from shared.models.base import Ms
from shared.models.setup import SiteFile
from shared.ports import BoardRow
from shared.shifts import day_of


@dataclass(frozen=True, slots=True)
class Turn:
    """What turns at an hour."""

    bay: str
    operation: str
    hour: str


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is expected."""

    days: tuple[tuple[str, tuple[Turn, ...]], ...]
    """Of each day with its weekday, what turns, by the hour."""
    unknown: tuple[Turn, ...]
    """What waits without an hour: not within the horizon, or nobody judges it now."""


def ahead(rows: Sequence[BoardRow], site: SiteFile, now: Ms, reader: Reader, *, doubted: bool) -> Ahead:
    """Return what is expected on the days ahead.

    Args:
        rows: open pours.
        site: the set-up in force.
        now: site time.
        reader: whose words it is in.
        doubted: whether the service itself is in doubt; no hour is told then.
    """
    known, unknown = [], []
    for row in rows:
        stopped = is_stopped(row, site, now, doubted=doubted)
        for operation in in_order(row):
            at_ms, name = expected_ms(row, operation, now, stopped=stopped), reader.operation(operation)
            if at_ms is not None:
                known.append((at_ms, row.pour.bay, name))
            elif row.gates[operation].state in WAITS:
                unknown.append(Turn(row.pour.bay, name, ""))
    zone = site.site.zone
    days = tuple(
        (reader.whole_day(day), tuple(Turn(bay, name, reader.hour(at_ms, at_ms)) for at_ms, bay, name in of_day))
        for day, of_day in groupby(sorted(known), lambda turn: day_of(turn[0], zone))
    )
    return Ahead(days, tuple(unknown))
