"""A calibration: the strength-maturity relationship of one mix, a TOML file beside the site file.

Which curve the parameters belong to is told by a key of their own; `curve` says it for people, and must agree.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from typing import Annotated, Final, Literal, TypeAlias

from pydantic import Discriminator, Field, Tag

from shared.models.base import Id, Line, Ms, Record, told_by

CurveName: TypeAlias = Literal["exponential", "hyperbola", "logarithmic", "en1992", "aci209"]
Strength = Annotated[float, Field(gt=0, le=200)]
CuringTemperature = Annotated[float, Field(ge=0, le=60)]


class ExponentialParameters(Record):
    """Three-parameter exponential: S = Su exp(-(tau/te)^beta)."""

    su_mpa: Strength
    tau_h: Annotated[float, Field(gt=0, le=1000)]
    beta: Annotated[float, Field(gt=0, le=5)]


class HyperbolaParameters(Record):
    """Hyperbola with offset: S = Su k (te - t0) / (1 + k (te - t0)) after t0."""

    su_mpa: Strength
    k_per_h: Annotated[float, Field(ge=0.0001, le=10)]
    t0_h: Annotated[float, Field(ge=0, le=200)]


class LogarithmicParameters(Record):
    """Logarithmic line: S = a + b log10(te), te in hours."""

    a_mpa: Annotated[float, Field(ge=-1000, le=200)]
    b_mpa: Annotated[float, Field(gt=0, le=500)]


class En1992Parameters(Record):
    """EN 1992-1-1 and fib: S = f28 exp(s (1 - sqrt(28 d / te)))."""

    f28_mpa: Strength
    s: Annotated[float, Field(ge=0.01, le=2)]


class Aci209Parameters(Record):
    """ACI 209: S = f28 te / (a + b te)."""

    f28_mpa: Strength
    a_h: Annotated[float, Field(ge=1, le=1000)]
    """The document gives days: 4.0 d are 96 h."""
    b: Annotated[float, Field(ge=0.1, le=2)]


CurveParameters = (
    ExponentialParameters | HyperbolaParameters | LogarithmicParameters | En1992Parameters | Aci209Parameters
)
PARAMETERS: Final[Mapping[str, type[CurveParameters]]] = {
    "exponential": ExponentialParameters,
    "hyperbola": HyperbolaParameters,
    "logarithmic": LogarithmicParameters,
    "en1992": En1992Parameters,
    "aci209": Aci209Parameters,
}
_TELLING: Final[Mapping[str, str]] = {
    "tau_h": "exponential",
    "k_per_h": "hyperbola",
    "a_mpa": "logarithmic",
    "s": "en1992",
    "a_h": "aci209",
}


def curve_told_by(parameters: object) -> str | None:
    """Return the curve that parameters are of; None: no key of theirs tells one."""
    return told_by(parameters, _TELLING)


def _told_by(parameters: object) -> str | None:
    # A tag that is a key is no part of where a fault lies.
    return told_by(parameters, {key: key for key in _TELLING})


class TemperatureTimeLaw(Record):
    """The temperature-time factor above a datum, as the contract asks for it."""

    kind: Literal["temperature-time"]
    datum_c: Annotated[float, Field(ge=-15, le=15)]


class EquivalentAgeLaw(Record):
    """Equivalent age with an activation energy that the contract names; not one tested for the mix."""

    kind: Literal["arrhenius"]
    activation_energy_kj_per_mol: Annotated[float, Field(ge=20, le=80)]


class WeightedLaw(Record):
    """Weighted maturity with the C-value of the cement."""

    kind: Literal["weighted"]
    c_value: Annotated[float, Field(ge=1.01, le=2)]


class FixedLaw(Record):
    """A law without a number of the mix's own."""

    kind: Literal["two-branch", "en1992", "sadgrove"]


ContractLaw: TypeAlias = TemperatureTimeLaw | EquivalentAgeLaw | WeightedLaw | FixedLaw


class OwnCylinders(Record):
    """How a pour's own early cylinders count for its batch, beside the sets that verify the mix."""

    narrow_to_percent: Annotated[float, Field(ge=6, le=30)] | None = None
    """Spread of the batch that they may narrow it to; none: they only lower."""
    narrow_from: Annotated[int, Field(ge=4, le=100)] = 4
    """Of so many of them on, in two sets or more."""


class Calibration(Record):
    """The strength-maturity relationship of one mix: a TOML file beside the site file."""

    mix: Id
    version: Annotated[int, Field(ge=1)]
    made_on: Line
    fit_for: Literal["release", "planning"] = "release"
    curve: CurveName
    parameters: Annotated[
        Annotated[ExponentialParameters, Tag("tau_h")]
        | Annotated[HyperbolaParameters, Tag("k_per_h")]
        | Annotated[LogarithmicParameters, Tag("a_mpa")]
        | Annotated[En1992Parameters, Tag("s")]
        | Annotated[Aci209Parameters, Tag("a_h")],
        Discriminator(_told_by),
    ]
    covariance: tuple[tuple[float, ...], ...]
    """Of the parameters in the order of their fields, from the fit."""
    degrees_of_freedom: Annotated[int, Field(ge=1)]
    tested_from_h: Annotated[float, Field(gt=0)]
    """Lowest tested equivalent age: below it nothing is released."""
    tested_to_h: Annotated[float, Field(gt=0)]
    """Highest tested equivalent age: above it strength is held at its value there."""
    activation_energy_kj_per_mol: Annotated[float, Field(ge=20, le=80)] | None = None
    """Tested for this mix; none: the shipped default law with its wider spread."""
    activation_energy_sd_kj_per_mol: Annotated[float, Field(gt=0, le=20)] | None = None
    activation_energy_from_c: CuringTemperature | None = None
    """Coldest curing temperature of that test: the energy counts over the temperatures tested only."""
    activation_energy_to_c: CuringTemperature | None = None
    """Hottest."""
    law: Annotated[ContractLaw, Field(discriminator="kind")] | None = None
    """The temperature law that the contract names. It can only lower: at each temperature the lower of it, as hours
    at 20 degC, and of the product's own law counts."""
    valid_until: date | None = None
    """Last day on which a pour may begin that is judged by it; none: until there is a new version."""
    batch_sd_percent: Annotated[float, Field(ge=10, le=30)] | None = None
    """Spread of the mix's batches about the curve, where it is known to be wider; none: 10 %."""
    own_cylinders: OwnCylinders | None = None
    """None: a pour's own cylinders count as those of any pour, by the sets of its mix only."""
    dose_class: Line | None = None
    """Of its admixtures, as tickets print it: another one on a ticket is a doubt. None: nobody said."""
    digest: Annotated[str, Field(pattern="^[0-9a-f]{64}$")] | None = None
    """SHA-256 of the rest; of a file that was changed since, none of it is believed."""

    def digested(self) -> str:
        """Return the SHA-256 of everything but the digest."""
        said = self.model_dump(mode="json", exclude_none=True, exclude={"digest"})
        return sha256(json.dumps(said, sort_keys=True, allow_nan=False).encode()).hexdigest()


def is_ahead(made_on: str, now: Ms) -> bool:
    """Return whether no cylinder can have been made on a day yet; a day's grace for zones ahead of UTC.

    Of words that are no day nobody can say so.
    """
    try:
        day = date.fromisoformat(made_on)
    except ValueError:
        return False
    return day > datetime.fromtimestamp(now / 1000, UTC).date() + timedelta(days=1)
