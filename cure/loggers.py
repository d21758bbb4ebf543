"""Every sensor that lies somewhere, and every one that sends and lies nowhere: heard, last value, what to do. Pure."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from cure.standin import silent_after_ms
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, MilliC, Ms, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Arrival, Heard, Stranger

LOW_BATTERY_PERCENT: Final = 20.0
"""Our judgement: in the cold it falls quickly from there."""
WEAK_SIGNAL_DBM: Final = -110.0
"""Our judgement: LoRa receivers end at -120 to -137 dBm (from memory), and wet concrete takes as much as is left. What
ends sooner, as Wi-Fi does, is silent by then."""
LATE_INTERVALS: Final = 2
"""A newest reading that was older when it came: the logger's clock is behind, or something keeps its messages back."""
RECENT_MS: Final = DAY_MS
"""A sensor that was taken out and still sends is listed as long as it was heard within a day."""


class Standing(StrEnum):
    """How a sensor stands."""

    ALIVE = "alive"
    SILENT = "silent"
    NEVER_HEARD = "never heard"
    NOT_PLACED = "heard, not placed"


@dataclass(frozen=True, slots=True)
class LoggerRow:
    """One sensor as the list shows it."""

    name: str
    """Of the sensor; of an unplaced logger that said no temperature its own, or the topic."""
    standing: Standing
    placement: Placement | None
    """Where it lies; None: nowhere."""
    heard_ms: Ms | None
    milli_c: MilliC | None
    battery_percent: float | None
    signal_db: float | None
    to_do: str
    """In words; "nothing" when all is well."""


@dataclass(frozen=True, slots=True)
class Known:
    """What the stores say of loggers."""

    placements: Sequence[Placement]
    arrivals: Mapping[SensorId, Arrival]
    newest: Mapping[SensorId, MilliC]
    """Newest stored value of each sensor."""
    heard: Mapping[str, Heard]
    strangers: Sequence[Stranger] = ()
    refused: Collection[str] = ()
    """Sensors and loggers of which something was refused within a day."""


def logger_of(sensor: str) -> str:
    """Return the logger of a sensor."""
    return sensor.partition(".")[0]


def rows(known: Known, now_ms: Ms) -> list[LoggerRow]:
    """Return the placed sensors by bay, then those that send and lie nowhere.

    Args:
        known: what the stores say.
        now_ms: site time.
    """
    lie = [p for p in known.placements if p.to_ms is None]
    placed = [_placed(p, known, now_ms) for p in sorted(lie, key=lambda p: (p.bay, p.sensor))]
    names = {p.sensor for p in lie}
    gone = sorted({p.sensor for p in known.placements} - names)
    still = [_still(sensor, known) for sensor in gone if _was_heard(known.arrivals.get(sensor), now_ms)]
    loggers = {logger_of(name) for name in names}
    strangers = sorted((s for s in known.strangers if s.name not in names | loggers), key=lambda s: s.name)
    return [*placed, *still, *map(_stranger, _one_each(strangers, {row.name for row in still}))]


def _one_each(strangers: Sequence[Stranger], known: set[str]) -> list[Stranger]:
    """Return the newest of each name; a logger whose sensors are listed is told by them."""
    newest: dict[str, Stranger] = {}
    for one in strangers:
        if one.name not in newest or newest[one.name].heard_ms < one.heard_ms:
            newest[one.name] = one
    listed = {logger_of(name) for name in newest if "." in name}
    return [s for name, s in newest.items() if name not in known and name not in listed]


def _was_heard(arrival: Arrival | None, now_ms: Ms) -> bool:
    return arrival is not None and now_ms - arrival.newest_received_ms <= RECENT_MS


def _placed(placement: Placement, known: Known, now_ms: Ms) -> LoggerRow:
    arrival, said = known.arrivals.get(placement.sensor), known.heard.get(logger_of(placement.sensor))
    heard_ms = None if arrival is None else arrival.newest_received_ms
    quiet = arrival is None or now_ms - arrival.newest_ms > silent_after_ms(placement)
    standing = Standing.NEVER_HEARD if arrival is None else Standing.SILENT if quiet else Standing.ALIVE
    return LoggerRow(
        placement.sensor,
        standing,
        placement,
        heard_ms,
        known.newest.get(placement.sensor),
        None if said is None else said.battery_percent,
        None if said is None else said.signal_db,
        _to_do(placement, standing, arrival, said, known, now_ms),
    )


def _to_do(
    placement: Placement, standing: Standing, arrival: Arrival | None, said: Heard | None, known: Known, now_ms: Ms
) -> str:
    found = []
    late_ms = 0 if arrival is None else arrival.newest_received_ms - arrival.newest_ms
    if {placement.sensor, logger_of(placement.sensor)} & set(known.refused):
        found.append("look why its messages are refused: `slabhour refused list`")
    elif standing is Standing.NEVER_HEARD:
        found.append("switch it on and look at its radio, broker address and topic")
    if late_ms > LATE_INTERVALS * placement.interval_s * 1000:
        found.append(f"its newest reading was {ago(late_ms)} old when it came: look at its clock, and at its radio")
    elif standing is Standing.SILENT and arrival is not None:
        silent_ms = now_ms - arrival.newest_received_ms
        found.append(f"go and look, nothing for {ago(silent_ms)}: battery, cable, radio")
    if said is not None and is_low(said.battery_percent):
        found.append(f"change the battery of {said.logger}")
    if said is not None and is_weak(said.signal_db):
        found.append(f"the signal of {said.logger} is weak: move the gateway nearer, or the antenna out")
    return "; ".join(found) or "nothing"


def _still(sensor: SensorId, known: Known) -> LoggerRow:
    said, was = known.heard.get(logger_of(sensor)), [p for p in known.placements if p.sensor == sensor][-1]
    return LoggerRow(
        sensor,
        Standing.NOT_PLACED,
        None,
        known.arrivals[sensor].newest_received_ms,
        known.newest.get(sensor),
        None if said is None else said.battery_percent,
        None if said is None else said.signal_db,
        f"it lay in {was.bay} and still sends: place it, or switch it off",
    )


def _stranger(one: Stranger) -> LoggerRow:
    sensor = one.name if "." in one.name else f"{one.name}.CHANNEL"
    to_do = f"place it, nothing of it counts: slabhour logger place {sensor} BAY ZONE --who YOU"
    return LoggerRow(
        one.name, Standing.NOT_PLACED, None, one.heard_ms, one.milli_c, one.battery_percent, one.signal_db, to_do
    )


def is_low(battery_percent: float | None) -> bool:
    """Return whether a battery is low; one that nobody tells of is not."""
    return battery_percent is not None and not battery_percent > LOW_BATTERY_PERCENT


def is_weak(signal_db: float | None) -> bool:
    """Return whether a signal is weak; one that nobody tells of is not. [dBm]"""
    return signal_db is not None and not signal_db > WEAK_SIGNAL_DBM


def ago(span_ms: int) -> str:
    """Return a span of time as people say it."""
    for unit_ms, name in ((DAY_MS, "d"), (HOUR_MS, "h"), (MINUTE_MS, "min")):
        if span_ms >= 2 * unit_ms:
            return f"{span_ms // unit_ms} {name}"
    return f"{max(0, span_ms) // 1000} s"
