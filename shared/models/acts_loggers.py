"""What people do with loggers, and in place of one: a sensor is placed, moved, taken out; a reading by hand."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from shared.models.act_base import ActBase
from shared.models.base import Id, Line, PourName, SensorIdText
from shared.models.setup import Zone


class PlaceSensor(ActBase):
    """A sensor is placed in a bay. Again, elsewhere: it was moved, or entered wrongly."""

    kind: Literal["place_sensor"] = "place_sensor"
    sensor: SensorIdText
    bay: Id
    zone: Zone
    position: Line | None = None
    """Where, in words."""
    depth_mm: Annotated[int, Field(ge=0, le=2000)] | None = None
    interval_s: Annotated[int, Field(ge=60, le=3600)] | None = None
    """None: the site's."""
    required: bool | None = None
    """None: required when it is placed in concrete before the end of its pour."""
    happened: AwareDatetime | None = None
    """When, if it was earlier than `at`; takes a second person."""
    second_person: Id | None = None
    """A required sensor taken from its bay and zone needs one too."""
    why: Line | None = None


class RemoveSensor(ActBase):
    """A sensor is not in its bay any more, from `at` on."""

    kind: Literal["remove_sensor"] = "remove_sensor"
    sensor: SensorIdText
    second_person: Id | None = None
    """A required sensor needs one."""
    why: Line


class HandReading(ActBase):
    """A person has measured the concrete with a contact probe."""

    kind: Literal["hand_reading"] = "hand_reading"
    pour: PourName
    temperature_c: Annotated[float, Field(ge=-40, le=60)]
    position: Line
    """Where, in words."""
    zone: Zone | None = None
    """None: it stands in for no sensor."""
    under_insulation: bool = False
    """Without it too."""
    happened: AwareDatetime | None = None
    """When, if it was earlier than `at`: within the hour."""
