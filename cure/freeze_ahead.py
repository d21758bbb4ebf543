"""Warns of freezing that is foreseen: that any point of a young slab falls below 0 degC before 3.5 MPa.

It tells, and is no input to a gate: the freeze watch of the readings themselves locks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.bay import FREEZE_SAFE_MPA
from cure.forecast import Forecast
from cure.work import OPEN_STATES
from shared.models.base import HOUR_MS, Json, Ms, PourId
from shared.models.messages import MessageKind, NewMessage
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow, Clock, CureBook

CHANCE: Final = 0.10
"""From which on it is told (our judgement)."""
APART_MS: Final = 12 * HOUR_MS
"""Between two warnings of one pour."""


def freezing_facts(forecast: Forecast) -> dict[str, Json] | None:
    """Return the facts of the warning: from which hour on, how likely, how cold; None: not likely enough.

    The hour is the first at which one member in ten is below 0 degC, the temperature the coldest of those members,
    both before the bound of strength is 3.5 MPa in nine members of ten.
    """
    if not forecast.freezing > CHANCE:
        return None
    low_c = forecast.coldest_c.low
    young = np.ones(len(low_c), dtype=bool)
    if forecast.bound_mpa is not None:
        young = ~(forecast.bound_mpa.low >= FREEZE_SAFE_MPA)
    cold = np.flatnonzero(young & (low_c < 0.0))
    first = int(cold[0]) if len(cold) else int(np.argmin(np.where(young, low_c, np.inf)))
    how = "lay covers, or heat the space below, before then"
    return {
        "from_ms": int(forecast.times_ms[first]),
        "chance_percent": round(100.0 * forecast.freezing),
        "coldest_c": float(np.min(low_c[young])) if young.any() else float(np.min(low_c)),
        "how": how,
    }


@dataclass(frozen=True, slots=True)
class FreezeWatch:
    """Writes the warning of each pour, not more than one in 12 h."""

    site: SiteFile
    board: BoardBook
    book: CureBook
    clock: Clock

    def tell(self, made: Sequence[Forecast]) -> int:
        """Write what new forecasts warn of; return how many were written. Raises `StoreError`."""
        found = [(f, facts) for f in made if (facts := freezing_facts(f)) is not None]
        if not found:
            return 0
        now, rows = self.clock.now(), {row.pour.id: row for row in self.board.board()}
        told = self._told()
        new = [
            self._message(rows[f.pour], facts, len(told.get(f.pour, ())), now)
            for f, facts in found
            if f.pour in rows and not 0 <= now - max(told.get(f.pour, [-APART_MS])) < APART_MS
        ]
        return self.book.messages_of_site(new) if new else 0

    def _told(self) -> Mapping[PourId, list[Ms]]:
        told: dict[PourId, list[Ms]] = {}
        for message in self.board.messages():
            if message.kind is MessageKind.FREEZING_AHEAD:
                told.setdefault(message.pour, []).append(message.at_ms)
        return told

    def _message(self, row: BoardRow, facts: Mapping[str, Json], epoch: int, now: Ms) -> NewMessage:
        site = self.site.site
        bay = next((b for b in self.site.bay if b.bay_id == row.pour.bay), None)
        common = {
            "site": site.name,
            "site_id": site.id,
            "zone": site.zone,
            "units": site.units,
            "floor": row.floor,
            "bay": row.pour.bay,
            "pour": row.pour.id,
            "operation": "",
            "exclusions": "" if bay is None else bay.exclusions,
            "not_released": [op for op, gate in row.gates.items() if gate.state not in OPEN_STATES],
            "hour_ms": now,
        }
        return NewMessage(MessageKind.FREEZING_AHEAD, row.pour.id, "", epoch, now, None, {**common, **facts})
