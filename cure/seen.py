"""What a sensor said, and a doubt about it: the words that `cure.doubts` and `cure.placing` share. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from cure.maturity import Floats
from shared.models.base import HOUR_MS, Ms, SensorId
from shared.models.decisions import HoldKind, Placement
from shared.models.readings import Series

Times: TypeAlias = NDArray[np.int64]
LOOK_BEFORE_MS: Final = 2 * HOUR_MS
"""Readings so long before the first concrete tell where a sensor lay."""
WATCHED_MS: Final = 72 * HOUR_MS
"""After the end of the pour; where a sensor lies shows by then."""
AIR_HOLE_MS: Final = HOUR_MS
FIRST_MS: Final = HOUR_MS
"""After the end of the pour: what is covered by then was covered in time."""
FOREVER: Final[tuple[Ms, Ms]] = (-1, 2**62)


class Cause(StrEnum):
    """What is wrong with a sensor."""

    STUCK = "stuck"
    IN_AIR = "in air"
    LATE = "late heat"
    EARLY = "early heat"
    EXCHANGED = "exchanged"
    NOT_FRESH = "not fresh concrete"
    RESTLESS = "restless"
    APART = "apart"
    SPIKE = "spike"
    UNIT = "unit slipped"
    BATCH = "stamped on arrival"
    INTERVAL = "another interval"
    UNSEEN = "not seen in concrete"
    ERROR_VALUE = "declared error value"
    CLOCK = "clock"


QUIET: Final = frozenset({Cause.LATE, Cause.SPIKE, Cause.UNIT, Cause.UNSEEN, Cause.ERROR_VALUE})
"""What nobody need be told of as long as it holds nothing up: it only earns less, and `slabhour refused` shows it."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A doubt about one sensor."""

    sensor: SensorId
    cause: Cause
    reason: str
    refused: tuple[tuple[Ms, Ms], ...] = ()
    """Spans whose readings earn nothing: after ... through. None: it is only told, or only held."""
    hold: HoldKind | None = None
    """What a person must lift when the sensor is a required one."""

    @property
    def told(self) -> bool:
        """Whether anybody must know: a sensor that was covered at the very end only starts later."""
        return self.hold is not None or self.cause not in QUIET

    @property
    def hidden(self) -> bool:
        """Whether its readings are taken as not there at all: they reach no rule, that of freezing neither."""
        return self.cause is Cause.ERROR_VALUE

    def answered(self) -> Doubt | None:
        """Return what is left of it when a person has looked: what was read in air is no concrete's all the same, and
        an hour that never was earns nothing."""
        return replace(self, hold=None) if self.cause in {Cause.LATE, Cause.CLOCK} else None

    def believed(self, taken_ms: Times) -> NDArray[np.bool_]:
        """Return which readings it leaves, shape (n,)."""
        left = np.ones(len(taken_ms), dtype=bool)
        for after, through in self.refused:
            left &= ~((taken_ms > after) & (taken_ms <= through))
        return left


@dataclass(frozen=True)
class Seen:
    """What a sensor said, from two hours before the first concrete on. Without slots, for what is computed once."""

    placement: Placement
    series: Series
    hidden_ms: Times = field(default_factory=lambda: np.empty(0, np.int64))
    """Hours at which it said an error value declared for its type: taken out of the series, and nothing is earned
    across them."""

    @cached_property
    def jumps_milli_c(self) -> NDArray[np.int64]:
        """Change over two intervals, at the reading in the middle: shape (n,); 0 where there is a hole."""
        t, c = self.series.taken_ms, self.series.milli_c
        jumps = np.zeros(len(t), np.int64)
        near = (t[2:] - t[:-2]) <= 3 * self.placement.interval_s * 1000
        jumps[1:-1] = np.where(near, c[2:] - c[:-2], 0)
        return jumps

    def between(self, after: Ms, through: Ms) -> slice:
        """Return the readings after one hour and through another."""
        first, last = np.searchsorted(self.series.taken_ms, [after, through], side="right")
        return slice(int(first), int(last))

    def until(self, through: Ms) -> Seen:
        """Return it without what came later."""
        part, hidden = self.between(-1, through), self.hidden_ms[self.hidden_ms <= through]
        return Seen(self.placement, self.series.part(part), hidden)

    def air_c(self, air: Series, shift_ms: int = 0) -> Floats:
        """Return the air at each reading, or so much earlier; NaN where nobody knows it. [degC]"""
        at, t = self.series.taken_ms - shift_ms, air.taken_ms
        if len(t) < 2:
            return np.full(len(at), np.nan)
        i = np.clip(np.searchsorted(t, at), 1, len(t) - 1)
        known = (at >= t[i - 1]) & (at <= t[i]) & (t[i] - t[i - 1] <= AIR_HOLE_MS)
        return np.where(known, np.interp(at, t, air.milli_c) / 1000.0, np.nan)

    def doubt(self, cause: Cause, words: str, *refused: tuple[Ms, Ms], hold: HoldKind | None = None) -> Doubt:
        """Return a doubt about it; `refused`: the spans that earn nothing, after ... through."""
        sensor = self.placement.sensor
        return Doubt(sensor, cause, f"{sensor} ({self.placement.zone}) {words}", refused, hold)
