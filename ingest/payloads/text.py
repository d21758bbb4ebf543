"""A bare number on a topic a channel, as small boards publish it: `21.5`.

Its unit stands in the site file. It has no hour: `ingest.arrival` says what it is worth.
"""

from __future__ import annotations

import re
from typing import Final

from ingest.payloads.decoded import Decoded, Decoder, Fault, Told, Untimed, quoted
from ingest.payloads.meaning import HOTTEST_C
from ingest.payloads.strict_json import LIMIT_BYTES
from shared import units
from shared.models.base import SensorId
from shared.models.payloads import TextTopic
from shared.models.readings import Reason

_NUMBER: Final = re.compile(rb"[+-]?[0-9]{1,9}(\.[0-9]{1,9})?")
_NOT_FINITE: Final = re.compile(rb"[+-]?(nan|inf|infinity|ovf)", re.IGNORECASE)
"""`ovf` is what a small board prints for a number too large to print."""


def decode(told: Told, payload: bytes, unit: str) -> Decoded:
    """Return the one temperature, or why it is none."""
    if told.logger is None or told.channel is None:
        return Decoded(faults=(Fault(Reason.TOPIC, "the topic names no logger and channel"),))
    sensor = SensorId(f"{told.logger}.{told.channel}")
    if len(payload) > LIMIT_BYTES:
        return Decoded(faults=(Fault(Reason.TOO_BIG, f"{len(payload)} bytes; at most {LIMIT_BYTES}"),))
    # Boards pad on the left and end a line on the right.
    text = payload.strip(b" \t\r\n")
    if _NOT_FINITE.fullmatch(text):
        return Decoded(faults=(Fault(Reason.NOT_FINITE, f"{sensor}: {quoted(text)} is no number", sensor),))
    if not _NUMBER.fullmatch(text):
        return Decoded(faults=(Fault(Reason.SCHEMA, f"{sensor}: needs one number, found {quoted(text)}", sensor),))
    value = float(text)
    celsius = value if unit == "degC" else units.f_to_c(value)
    if not abs(celsius) <= HOTTEST_C:
        return Decoded(faults=(Fault(Reason.RANGE, f"{sensor}: {value!r} is no temperature", sensor),))
    return Decoded(untimed=(Untimed(sensor, units.milli_c(celsius)),))


def decoder(topic: TextTopic) -> Decoder:
    """Return the decoder of a [[topic]]."""
    return lambda told, payload: decode(told, payload, topic.unit)
