"""The service's own test message, which takes the whole way of a reading."""

from __future__ import annotations

from typing import Final

from ingest.payloads.decoded import Fault
from ingest.payloads.strict_json import PayloadError, load
from ingest.sheet import Sheet, Taken
from shared.models.base import LoggerId, Ms
from shared.models.readings import Heard, Reason

CANARY: Final = LoggerId("*canary")
"""Stands where a logger would; none can be called so."""


def hear_canary(topic: str, payload: bytes, received: Ms, sheet: Sheet) -> Taken:
    """Note it as heard from a logger of its own."""
    fault = Fault(Reason.SCHEMA, 'a canary is {"canary": whole number}')
    try:
        said = load(payload)
        number = int(said["canary"])
        if 0 <= number < 2**53:
            sheet.heard.append(Heard(CANARY, received, sequence=number))
            return Taken(heard=True)
    except PayloadError as error:
        fault = error.fault
    except (KeyError, TypeError, ValueError, OverflowError):
        pass
    sheet.refuse(topic, payload, received, [fault])
    return Taken(faults=(fault,))
