"""A calibration: the strength-maturity relationship of one mix, a TOML file beside the site file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shared.models.base import Id, Line, Record


class CurveParameters(Record):
    """Three-parameter exponential: S = Su exp(-(tau/te)^beta)."""

    su_mpa: Annotated[float, Field(gt=0, le=200)]
    tau_h: Annotated[float, Field(gt=0, le=1000)]
    beta: Annotated[float, Field(gt=0, le=5)]


class Calibration(Record):
    """The strength-maturity relationship of one mix: a TOML file beside the site file."""

    mix: Id
    version: Annotated[int, Field(ge=1)]
    made_on: Line
    curve: Literal["exponential"]
    parameters: CurveParameters
    covariance: tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]
    """Of (su_mpa, tau_h, beta), from the fit."""
    degrees_of_freedom: Annotated[int, Field(ge=1)]
    tested_from_h: Annotated[float, Field(gt=0)]
    """Lowest tested equivalent age: below it nothing is released."""
    tested_to_h: Annotated[float, Field(gt=0)]
    """Highest tested equivalent age: above it strength is held at its value there."""
    activation_energy_kj_per_mol: Annotated[float, Field(ge=20, le=80)] | None = None
    """Tested for this mix; none: the shipped default law with its wider spread."""
    activation_energy_sd_kj_per_mol: Annotated[float, Field(gt=0, le=20)] | None = None
