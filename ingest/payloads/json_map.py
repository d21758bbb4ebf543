"""Any JSON, by the map of its fields in the site file: JMESPath expressions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import jmespath
from jmespath.exceptions import JMESPathError

from ingest.payloads.decoded import Decoded, Decoder, Facts, Fault, Record, Told, Untimed, quoted
from ingest.payloads.json_times import Reader, reader
from ingest.payloads.meaning import Measured, meaning
from ingest.payloads.strict_json import PayloadError, load
from shared import units
from shared.models.base import Json, LoggerId, Ms
from shared.models.payloads import JSON_PATHS, JsonTopic
from shared.models.readings import Reason

MOST_RECORDS: Final = 250
"""In a message. A path may make many records of a short list."""
UNITS: Final[Mapping[str, str]] = {
    "degC": "degC", "Cel": "degC", "C": "degC", "°C": "degC", "degF": "degF", "F": "degF", "°F": "degF",
}  # fmt: skip
"""What a message may call the two units."""
_FACTS: Final[Mapping[str, tuple[str, str | None]]] = {
    "sequence": ("seq", None),
    "boot": ("boot", None),
    "battery": ("battery", "%EL"),
    "signal": ("signal", "dBm"),
    "mac": ("mac", None),
}
"""The fields of a [[topic]] with the names and units that they have in SenML."""


def _is_number(found: Json) -> bool:
    return isinstance(found, int | float) and not isinstance(found, bool)


@dataclass(frozen=True, slots=True)
class _Map:
    """A [[topic]] made ready."""

    topic: JsonTopic
    time: Reader
    paths: Mapping[str, Any] = field(default_factory=dict)
    """Compiled, by the field that each stands in."""

    def find(self, name: str, where: Json) -> Json:
        """Return what a path finds; None: nothing, or there is no such path. Raises `PayloadError`."""
        if name not in self.paths:
            return None
        try:
            return self.paths[name].search(where)
        # A function of the path met what it does not take.
        except (JMESPathError, ArithmeticError, AttributeError, LookupError) as error:
            raise PayloadError(Fault(Reason.SCHEMA, f"{name}: {quoted(str(error))}")) from None
        except (TypeError, ValueError, RecursionError) as error:
            raise PayloadError(Fault(Reason.SCHEMA, f"{name}: {type(error).__name__}")) from None

    def records(self, message: Json) -> list[Json]:
        """Return the records of a message."""
        if "records" not in self.paths:
            return [message]
        found = self.find("records", message)
        if not isinstance(found, list) or not found:
            raise PayloadError(Fault(Reason.SCHEMA, f"records: at least one in a list, found {quoted(found)}"))
        if len(found) > MOST_RECORDS:
            raise PayloadError(Fault(Reason.TOO_BIG, f"{len(found)} records; at most {MOST_RECORDS}"))
        return found


def _channel(told: Told, found: Json) -> str | None:
    if told.channel is not None:
        return told.channel
    if _is_number(found):
        return str(int(found)) if 0 <= found <= 99 and int(found) == found else None
    return found if isinstance(found, str) else None


def _celsius(found: Json, unit: str) -> float | None:
    if not _is_number(found):
        return None
    return units.f_to_c(float(found)) if unit == "degF" else float(found)


def _named(here: _Map, told: Told, record: Json) -> tuple[LoggerId, str] | Fault:
    """Return the logger and the whole name of the sensor."""
    if here.topic.sensor is not None:
        sensor = here.find("sensor", record)
        if not isinstance(sensor, str):
            return Fault(Reason.SCHEMA, f"sensor: a text logger.channel, found {quoted(sensor)}")
        return told.logger or LoggerId(sensor.partition(".")[0]), sensor
    channel = _channel(told, here.find("channel", record))
    if channel is None or told.logger is None:
        return Fault(Reason.SCHEMA, f"channel: 0 to 99, found {quoted(here.find('channel', record))}")
    return told.logger, f"{told.logger}.{channel}"


@dataclass(frozen=True, slots=True)
class _Time:
    """A time as it stands in a message, and read."""

    found: Json
    ms: Ms | None

    @classmethod
    def of(cls, here: _Map, found: Json) -> _Time:
        """Read it once, however many records it holds for."""
        return cls(found, here.time(found))


def _temperature(here: _Map, told: Told, record: Json, message_time: _Time | None) -> Record | Fault:
    named = _named(here, told, record)
    if isinstance(named, Fault):
        return named
    logger, name = named
    unit = here.topic.unit or here.find("unit_path", record)
    if not isinstance(unit, str) or unit not in UNITS:
        return Fault(Reason.UNIT, f"{quoted(name)}: unit {quoted(unit)}; needs one of {', '.join(map(ascii, UNITS))}")
    value = here.find("value", record)
    celsius = _celsius(value, UNITS[unit])
    if celsius is None:
        return Fault(Reason.SCHEMA, f"{quoted(name)}: a temperature is one number, found {quoted(value)}")
    if not math.isfinite(celsius):
        return Fault(Reason.NOT_FINITE, f"{quoted(name)}: {celsius!r} is no temperature")
    time = message_time or _Time.of(here, here.find("time", record))
    if time.ms is None:
        said = f"no time in {quoted(time.found)} by {quoted(here.topic.time_format)}"
        return Fault(Reason.SCHEMA, f"{quoted(name)}: {said}")
    found = meaning(logger, Measured(name, "Cel", time.ms / 1000.0, celsius), Facts())
    # A name such as `lg-01.seq` is one of a fact, which a temperature is not.
    return Fault(Reason.SCHEMA, f"{quoted(name)} is no sensor") if isinstance(found, Facts) else found


def _facts(here: _Map, logger: LoggerId, message: Json) -> Iterator[Facts | Fault]:
    """Yield the facts, growing, and what was there but is none."""
    facts = Facts()
    for path, (name, unit) in _FACTS.items():
        try:
            found = here.find(path, message)
        except PayloadError as error:
            yield error.fault
            continue
        if found is None:
            continue
        value = float(found) if _is_number(found) else None
        text = found if isinstance(found, str) else None
        part = meaning(logger, Measured(f"{logger}.{name}", unit, 0.0, value, text), facts)
        if isinstance(part, Facts):
            facts = part
            yield facts
        elif isinstance(part, Fault):
            yield part


def _temperatures(here: _Map, told: Told, message: Json) -> Iterator[Record | Untimed | Fault]:
    try:
        message_time = None if here.topic.message_time is None else _Time.of(here, here.find("message_time", message))
        records = here.records(message)
    except PayloadError as error:
        yield error.fault
        return
    for record in records:
        try:
            found = _temperature(here, told, record, message_time)
            if isinstance(found, Record) and here.topic.time_of == "receiving":
                yield Untimed(found.sensor, found.milli_c, found.taken_ms)
            else:
                yield found
        except PayloadError as error:
            yield error.fault


def _decode(here: _Map, told: Told, payload: bytes) -> Decoded:
    try:
        message = load(payload)
    except PayloadError as error:
        return Decoded(faults=(error.fault,))
    parts: list[Record | Untimed | Fault | Facts] = list(_temperatures(here, told, message))
    if told.logger is not None:
        parts += _facts(here, told.logger, message)
    return Decoded(
        tuple(part for part in parts if isinstance(part, Record)),
        tuple(part for part in parts if isinstance(part, Fault)),
        next((part for part in reversed(parts) if isinstance(part, Facts)), None),
        tuple(part for part in parts if isinstance(part, Untimed)),
    )


def decoder(topic: JsonTopic) -> Decoder:
    """Return the decoder of a [[topic]]; the site file has been read, so every path compiles."""
    paths = {name: jmespath.compile(getattr(topic, name)) for name in JSON_PATHS if getattr(topic, name) is not None}
    here = _Map(topic, reader(topic), paths)
    return lambda told, payload: _decode(here, told, payload)
