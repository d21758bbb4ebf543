"""Types every model uses: identities are types, units are in the names."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final, NewType, TypeAlias

from pydantic import BaseModel, ConfigDict, StringConstraints

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
FULL_LOAD = Operation("full load")
UNCOVER = Operation("uncover")

THE_SITE: Final = PourId("")
"""Stands where a pour would, in a message about the whole site."""

ID_PATTERN: Final = r"^[a-z0-9-]{1,32}$"
Id = Annotated[str, StringConstraints(pattern=ID_PATTERN)]
SensorIdText = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,32}\.[0-9]{1,2}$")]
Shift = Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d-([01]\d|2[0-3]):[0-5]\d$")]
Line = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=r"^[^\x00-\x08\x0a-\x1f\x7f]*$")]
OperationName = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z -]{0,31}$")]
PourName = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,48}$")]

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
DAY_MS = 86_400_000


def told_by(value: object, kinds: Mapping[str, str]) -> str | None:
    """Return the kind of a table, or of a model made of one, by a key that it has; None: it has none of the keys."""
    keys = value if isinstance(value, Mapping) else getattr(type(value), "model_fields", ())
    return next((kind for key, kind in kinds.items() if key in keys), None)


class Record(BaseModel):
    """Base of what crosses an edge: immutable, closed to unknown fields, strict, no NaN."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
