"""What the heat of a mix is reckoned from: for the forecast alone, no release asks for it."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from shared.models.base import Record

MOST_REPLACED: Final = 0.9
"""Of the binder by fly ash and slag together: some of it is cement."""


class HeatSettings(Record):
    """[mix.heat]"""

    cement: Literal["I", "II", "III", "V"]
    """Type of ASTM C150: ordinary, moderate, high early strength, sulfate resisting."""
    binder_kg_m3: Annotated[float, Field(ge=100, le=800)]
    """Cement and what replaces it. [kg/m3]"""
    water_binder: Annotated[float, Field(ge=0.2, le=1.0)]
    fly_ash: Annotated[float, Field(ge=0, le=0.6)] = 0.0
    """Share of the binder."""
    slag: Annotated[float, Field(ge=0, le=0.8)] = 0.0
    """Share of the binder."""

    @model_validator(mode="after")
    def _some_cement(self) -> HeatSettings:
        if self.fly_ash + self.slag > MOST_REPLACED:
            raise ValueError("fly_ash and slag together are at most 0.9 of the binder")
        return self
