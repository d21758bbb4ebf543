"""What a name, a unit, a time and a value mean here: `<logger>.<channel>` is a temperature, five more are facts."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from ingest.payloads.decoded import Facts, Fault, Record, quoted
from shared import units
from shared.models.base import LoggerId, SensorId
from shared.models.readings import Reason

RELATIVE_BELOW_S: Final = 2.0**28
"""RFC 8428, 4.5.3: a smaller time counts from "now", which is the logger's and not ours."""
LATEST_S: Final = 253_402_300_799.0
"""End of the year 9999."""
HOTTEST_C: Final = 1e6
"""Only keeps the arithmetic finite; what is plausible is decided by screening."""
_NAME: Final = re.compile(r"([a-z0-9-]{1,32})\.([a-z]{1,16}|[0-9]{1,2})")
_BOOT: Final = re.compile(r"[A-Za-z0-9._:-]{1,64}")
_MAC: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Measured:
    """One record of any format, in the terms of RFC 8428."""

    name: str
    unit: str | None
    time_s: float
    value: float | None
    text: str | None = None
    others: bool = False
    """It has a value of another kind (true or false, data) beside or instead of these two."""


def temperature(sensor: SensorId, found: Measured) -> Record | Fault:
    """Return the temperature, or why it is none."""
    if found.value is None or found.text is not None or found.others:
        return Fault(Reason.SCHEMA, f"{sensor}: a temperature is one number", sensor)
    if found.unit != "Cel":
        return Fault(Reason.UNIT, f"{sensor}: unit {quoted(found.unit)}; needs 'Cel'", sensor)
    if not abs(found.value) <= HOTTEST_C:
        return Fault(Reason.RANGE, f"{sensor}: {found.value!r} is no temperature", sensor)
    if not found.time_s >= RELATIVE_BELOW_S:
        return Fault(Reason.CLOCK_PAST, f"{sensor}: time {found.time_s!r} s is relative or before July 1978", sensor)
    if not found.time_s <= LATEST_S:
        return Fault(Reason.CLOCK_FUTURE, f"{sensor}: time {found.time_s!r} s is after the year 9999", sensor)
    return Record(sensor, round(found.time_s * 1000.0), units.milli_c(found.value))


def _boot(found: Measured, facts: Facts) -> Facts | Fault:
    if found.text is None or not _BOOT.fullmatch(found.text):
        return Fault(Reason.SCHEMA, f"boot is a short text, found {quoted(found.text)}")
    return replace(facts, boot=found.text)


def _sequence(found: Measured, facts: Facts) -> Facts | Fault:
    if found.value is None or not 0 <= found.value <= 2**53 or not found.value.is_integer():
        return Fault(Reason.SCHEMA, f"seq is a whole number, found {quoted(found.value)}")
    return replace(facts, sequence=int(found.value))


def _battery(found: Measured, facts: Facts) -> Facts | Fault:
    if found.unit != "%EL":
        return Fault(Reason.UNIT, f"battery: unit {quoted(found.unit)}; needs '%EL'")
    if found.value is None or not 0 <= found.value <= 100:
        return Fault(Reason.RANGE, f"battery is 0 to 100, found {quoted(found.value)}")
    return replace(facts, battery_percent=found.value)


def _signal(found: Measured, facts: Facts) -> Facts | Fault:
    if found.unit not in {"dBm", "dBW"}:
        return Fault(Reason.UNIT, f"signal: unit {quoted(found.unit)}; needs 'dBm' or 'dBW'")
    if found.value is None or not -300 <= found.value <= 300:
        return Fault(Reason.RANGE, f"signal is a level in decibels, found {quoted(found.value)}")
    return replace(facts, signal_db=found.value + (30.0 if found.unit == "dBW" else 0.0))


def _mac(found: Measured, facts: Facts) -> Facts | Fault:
    if found.text is None or not _MAC.fullmatch(found.text):
        return Fault(Reason.SCHEMA, f"mac is a text of 64 of 0-9, a-f, found {quoted(found.text)}")
    return replace(facts, mac=found.text)


FACTS: Final[Mapping[str, Callable[[Measured, Facts], Facts | Fault]]] = {
    "boot": _boot,
    "seq": _sequence,
    "battery": _battery,
    "signal": _signal,
    "mac": _mac,
}
"""Names after `<logger>.` that are not temperatures."""


def meaning(logger: LoggerId, found: Measured, facts: Facts) -> Record | Facts | Fault:
    """Return the temperature, or the facts with what this record adds to them, or why it is neither."""
    match = _NAME.fullmatch(found.name)
    if match is None or not (match[2].isdigit() or match[2] in FACTS):
        return Fault(Reason.SCHEMA, f"name {quoted(found.name)} is not <logger>.<channel>")
    if match[1] != logger:
        return Fault(Reason.ID_MISMATCH, f"name {quoted(found.name)} came on the topic of {logger}")
    if match[2] in FACTS:
        return FACTS[match[2]](found, facts)
    return temperature(SensorId(found.name), found)
