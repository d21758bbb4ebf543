"""What the interface for other software answers of the newest round of a pour."""

from __future__ import annotations

from datetime import datetime

from pydantic import BaseModel


class KeptAnswer(BaseModel):
    """Readings that earn nothing for one reason; cold among them is watched all the same."""

    reason: str
    readings: int
    since: datetime
    until: datetime | None
    """Null: it goes on."""


class AccountAnswer(BaseModel):
    """What became of a sensor's readings since the first concrete. `refusals` has what was refused on its way in."""

    sensor: str
    credited: int
    kept: list[KeptAnswer]
    refused: dict[str, int]


class EstimateAnswer(BaseModel):
    """What the newest round found out."""

    as_of: datetime
    evidence_to: datetime | None
    age_h: float | None
    coldest_c: float | None
    governing_sensor: str | None
    equivalent_age_h: float | None
    temperature_time_c_h: float | None
    strength_mpa: float | None
    lower_bound_mpa: float | None
    counted_h: dict[str, float]
    sensors: list[AccountAnswer]
