"""What the readings say of the concrete beside strength: hottest, how uneven, how fast it cooled. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cure.credit import SensorTrack
from cure.limits import LIMITS, Limit, by_thickness
from cure.surface import known_drop_c
from shared.models.base import DAY_MS, Ms, SensorId


@dataclass(frozen=True, slots=True)
class Condition:
    """One value held against its limit."""

    found_c: float
    limit: Limit
    sensor: SensorId | None
    """Whose value it is; None: of several."""

    @property
    def kept(self) -> bool:
        """Whether the limit is kept."""
        return self.limit.kept(self.found_c)


def hottest(sensors: Sequence[SensorTrack]) -> Condition:
    """Return the hottest that any sensor has been since the first concrete; there must be one with readings."""
    peaks = {s.placement.sensor: int(s.raw.milli_c.max()) / 1000.0 for s in sensors}
    sensor = max(peaks, key=lambda of: peaks[of])
    return Condition(peaks[sensor], LIMITS["hottest"], sensor)


def steepest(sensors: Sequence[SensorTrack], end_ms: Ms, thickness_mm: float) -> Condition:
    """Return the largest drop of a sensor in its last 24 h, none of it before the end of the pour."""
    drops = {s.placement.sensor: _drop_c(s, end_ms) for s in sensors}
    sensor = max(drops, key=lambda of: drops[of])
    return Condition(drops[sensor], by_thickness("drop in 24 h", thickness_mm), sensor)


def _drop_c(s: SensorTrack, end_ms: Ms) -> float:
    since_ms = max(end_ms, int(s.raw.taken_ms[-1]) - DAY_MS)
    return known_drop_c(s.raw.milli_c[s.raw.taken_ms >= since_ms])


def apart(sensors: Sequence[SensorTrack], end_ms: Ms) -> Condition:
    """Return how far the newest readings after the end of the pour lie apart; 0 of fewer than two."""
    newest = [int(s.raw.milli_c[-1]) / 1000.0 for s in sensors if s.raw.taken_ms[-1] > end_ms]
    return Condition(max(newest) - min(newest) if newest else 0.0, LIMITS["between sensors"], None)
