"""Types every model uses: identities are types, units are in the names."""

from __future__ import annotations

from typing import Any, NewType, TypeAlias

from pydantic import BaseModel, ConfigDict

Ms: TypeAlias = int
"""Milliseconds since 1970-01-01T00:00Z. [ms]"""
MilliC: TypeAlias = int
"""Thousandths of a degree Celsius: whole numbers, so that every store agrees exactly. [m degC]"""
Json: TypeAlias = Any
"""What `json.dumps` takes."""

SiteId = NewType("SiteId", str)
BayId = NewType("BayId", str)
PourId = NewType("PourId", str)
MixId = NewType("MixId", str)
LoggerId = NewType("LoggerId", str)
SensorId = NewType("SensorId", str)
"""One measuring point: `logger.channel`."""
RecipientId = NewType("RecipientId", str)
Operation = NewType("Operation", str)

STRIP = Operation("strip")
WALK = Operation("walk")
LOAD = Operation("load")

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
DAY_MS = 86_400_000


class Record(BaseModel):
    """Base of what crosses an edge: immutable, closed to unknown fields, strict, no NaN."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
