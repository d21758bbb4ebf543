"""In which group of the board a pour stands, and in what order: by what it asks of a person. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from cure.dashboard.expected import soonest_ms
from cure.gate import OPEN
from shared.models.base import Ms
from shared.models.decisions import GateState as S
from shared.models.setup import SiteFile
from shared.ports import BoardRow
from shared.shifts import day_of

GROUPS: Final = ("look-first", "released", "sign-off", "today", "curing", "done")
"""Board order."""
LOOK_FIRST: Final = frozenset({S.WITHDRAWN, S.DONE_WITHOUT_RELEASE, S.SUSPENDED, S.HOLD})


def group_of(row: BoardRow, site: SiteFile, now_ms: Ms) -> str:
    """Return the group of a pour: the first that any of its gates asks for."""
    states = {gate.state for gate in row.gates.values()}
    if states & LOOK_FIRST:
        return "look-first"
    if states & OPEN:
        return "released"
    if S.MET in states:
        return "sign-off"
    if states == {S.DONE}:
        return "done"
    soonest, zone = soonest_ms(row, now_ms), site.site.zone
    return "today" if soonest is not None and day_of(soonest, zone) == day_of(now_ms, zone) else "curing"


def of_one_group(group: str, rows: Sequence[BoardRow], now_ms: Ms) -> list[BoardRow]:
    """Return the pours of a group: those that wait by what comes soonest, others by how long they are there."""
    if group not in {"today", "curing"}:
        return sorted(rows, key=_longest_first)

    def soonest_first(row: BoardRow) -> tuple[float, tuple[Ms, str]]:
        soonest = soonest_ms(row, now_ms)
        return math.inf if soonest is None else soonest, _longest_first(row)

    return sorted(rows, key=soonest_first)


def _longest_first(row: BoardRow) -> tuple[Ms, str]:
    ends = row.pour.start_ms if row.pour.end_ms is None else row.pour.end_ms
    return ends, row.pour.bay
