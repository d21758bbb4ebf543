"""The readings of open pours, kept between rounds: a new reading is fetched alone, however long the pour is.

What is kept is exactly what the store would say again. It is thrown away when it might not be: after a reading that
came late or changed another (`Arrival.rewritten`). A person's act is judged by the whole record, read anew.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from cure.credit import LAST_MS
from cure.seen import LOOK_BEFORE_MS
from shared.models.base import Ms, PourId, SensorId
from shared.models.readings import Arrival, Series
from shared.ports import PourCase, Readings

MOST_READINGS: Final = 2_500_000
"""Kept in memory, 24 bytes each; beyond it the pours that were looked at longest ago are read anew."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """What is known of one sensor of one pour."""

    after_ms: Ms
    revision: int
    """Of the sensor when it was read, or earlier."""
    series: Series

    def stands(self, after_ms: Ms, arrival: Arrival) -> bool:
        """Return whether all of it is still what the store holds."""
        return len(self.series) > 0 and self.after_ms == after_ms and arrival.rewritten <= self.revision


@dataclass(slots=True)
class Histories:
    """The series of each pour's sensors. `of` is for one thread, that of the rounds."""

    readings: Readings
    most: int = MOST_READINGS
    _kept: OrderedDict[PourId, dict[SensorId, _Kept]] = field(default_factory=OrderedDict, init=False)
    _held: int = field(default=0, init=False)
    """Readings in all of it: to count them for each pour would cost as much as there are pours."""

    def of(self, case: PourCase, now: Ms) -> dict[SensorId, Series]:
        """Return the readings of each sensor of a pour, from two hours before it through now.

        Args:
            case: the pour, with what had arrived of its sensors when it was read: before this call.
            now: site time.

        Raises:
            StoreError: the store failed; nothing that was kept is lost.
        """
        pour, known = case.pour, self._kept.get(case.pour.id, {})
        found = {p.sensor: self._read(case, p.sensor, known.get(p.sensor)) for p in case.placements}
        self._kept[pour.id] = found
        self._held += _readings(found) - _readings(known)
        self._kept.move_to_end(pour.id)
        self._let_go()
        return {sensor: _through(kept.series, now) for sensor, kept in found.items()}

    def anew(self, case: PourCase, now: Ms) -> dict[SensorId, Series]:
        """Return the same, from the store alone. For any thread."""
        after = _after(case)
        return {p.sensor: self.readings.between(p.sensor, after, now) for p in case.placements}

    def _read(self, case: PourCase, sensor: SensorId, known: _Kept | None) -> _Kept:
        """Read what is not known yet: through any hour, because a logger's clock may run a little ahead of now."""
        after, arrival = _after(case), case.arrivals.get(sensor)
        revision = 0 if arrival is None else arrival.revision
        if known is None or arrival is None or not known.stands(after, arrival):
            return _Kept(after, revision, self.readings.between(sensor, after, LAST_MS))
        # Also without news: a store that cannot be read must not go unnoticed.
        newer = self.readings.between(sensor, int(known.series.taken_ms[-1]), LAST_MS)
        return _Kept(after, revision, _joined(known.series, newer))

    def _let_go(self) -> None:
        while self._held > self.most and len(self._kept) > 1:
            _, sensors = self._kept.popitem(last=False)
            self._held -= _readings(sensors)


def _readings(sensors: Mapping[SensorId, _Kept]) -> int:
    return sum(len(kept.series) for kept in sensors.values())


def _after(case: PourCase) -> Ms:
    return case.pour.start_ms - LOOK_BEFORE_MS


def _joined(one: Series, other: Series) -> Series:
    if not len(other):
        return one
    taken, milli_c = (one.taken_ms, other.taken_ms), (one.milli_c, other.milli_c)
    known = None if one.received_ms is None or other.received_ms is None else (one.received_ms, other.received_ms)
    return Series(np.concatenate(taken), np.concatenate(milli_c), None if known is None else np.concatenate(known))


def _through(series: Series, now: Ms) -> Series:
    """Return it without what is later than now: a clock that was put back must not see ahead."""
    if not len(series) or int(series.taken_ms[-1]) <= now:
        return series
    n = int(np.searchsorted(series.taken_ms, now, side="right"))
    return series.part(slice(n))
