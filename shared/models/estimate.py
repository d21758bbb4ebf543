"""What a round found out about a pour, and what became of its readings. Times are milliseconds UTC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shared.models.base import Ms, SensorId


@dataclass(frozen=True, slots=True)
class KeptReadings:
    """Readings of a sensor that earn nothing for one reason; cold among them is watched all the same."""

    reason: str
    readings: int
    from_ms: Ms
    to_ms: Ms | None
    """None: it goes on."""


@dataclass(frozen=True, slots=True)
class SensorAccount:
    """What became of a sensor's readings since the first concrete. What ingest refused is not among them."""

    sensor: SensorId
    credited: int
    kept: tuple[KeptReadings, ...] = ()
    """Without credit; one that two reasons hold stands in both."""
    refused: Mapping[str, int] = field(default_factory=dict)
    """By reason: as if nothing had been said."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the newest round found out about a pour, for the board and the messages."""

    evidence_ms: Ms | None
    """Watermark: the oldest of the required sensors' newest readings."""
    age_h: float | None
    """Since the end of the pour."""
    coldest_c: float | None
    """Coldest concrete now, of the sensors that are alive."""
    governing_sensor: SensorId | None
    equivalent_age_h: float | None
    temperature_time_c_h: float | None
    strength_mpa: float | None
    lower_bound_mpa: float | None
    counted_h: Mapping[str, float]
    """Counted hours by limit, keyed like "5"."""
    error_budget_mpa: Mapping[str, float] = field(default_factory=dict)
    """What each source of error takes from the estimate, at the governing sensor; added up as squares."""
    sensors: tuple[SensorAccount, ...] = ()
