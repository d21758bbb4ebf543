"""What a forecast of a pour is made of and says: the weather over it, its slab, the hours of its operations. Pure.

A forecast releases nothing: it is told, and its only way into a gate is a hold.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.hydration import Hydration
from cure.maturity import Floats
from cure.slab import State
from shared.models.base import HOUR_MS, Ms, Operation, PourId, SensorId
from shared.models.readings import Series

HORIZON_H: Final = 120
MEMBERS: Final = 300
NEVER: Final = math.inf
"""An hour that does not come within the horizon."""
FOR_EVER_MS: Final[Ms] = 2**62
COVER_M2_K_PER_W: Final = 0.2
"""Of a cover that somebody entered: wet or pressed it has 0.18 to 0.35 (our judgement)."""


class Source(StrEnum):
    """Where the spread of a forecast comes from."""

    WEATHER = "weather"
    HEAT_MODEL = "heat model"
    MIX = "mix"


class Governs(StrEnum):
    """What an operation waits for last."""

    CLOCK = "clock hours"
    COLD = "cold hours"
    STRENGTH = "strength"


@dataclass(frozen=True, slots=True)
class Weather:
    """The weather over a bay, each of shape (hours,): as it was, and from `issued_ms` on as it is foreseen.

    Values stand for their hour; between hours the line holds. Before the first and after the last nothing is known.
    """

    hours_ms: NDArray[np.int64]
    """Ascending, an hour apart."""
    air_c: Floats
    wind_m_per_s: Floats
    humidity_percent: Floats
    sun_w_per_m2: Floats
    """On the level."""
    cloud_share: Floats
    """Of the sky, 0 to 1."""
    air_sd_c: Floats
    """Of the error of the air at each hour beside the bias; what is measured has a small one."""
    bias_sd_c: float
    """Of an error common to all hours from `issued_ms` on."""
    issued_ms: Ms
    source: str
    """As it is told: "weather.csv", "air logger 2-b1-air"."""
    doubts: tuple[str, ...] = ()
    """Why it was widened: stale, absurd values left out, only the site's own air."""

    def __post_init__(self) -> None:
        values = (
            self.air_c,
            self.wind_m_per_s,
            self.humidity_percent,
            self.sun_w_per_m2,
            self.cloud_share,
            self.air_sd_c,
        )
        n = len(self.hours_ms)
        if n < 2 or any(v.shape != (n,) for v in values) or not np.all(np.diff(self.hours_ms) == HOUR_MS):
            raise ValueError("weather is two hours or more, an hour apart, each value of the same length")
        if not (all(np.all(np.isfinite(v)) for v in values) and math.isfinite(self.bias_sd_c)):
            raise ValueError("weather is numbers: what is not known is filled and widened by whoever made it")
        if np.any(self.air_sd_c < 0.0) or self.bias_sd_c < 0.0 or np.any(self.wind_m_per_s < 0.0):
            raise ValueError("wind and spread are not below 0")


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations of what is drawn for a pour (all our judgement; see each)."""

    placing_c: float = 2.5
    ln_heat: float = 0.10
    """Of the heat of hydration; a class default has 0.20."""
    ln_tau: float = 0.20
    """Of the hours that hydration takes, setting within."""
    ln_film: float = 0.30
    """Of the film of air above: formulas differ twofold."""
    ln_below: float = 0.30
    """Of what is below: forms and their film."""
    ln_conductivity: float = 0.10
    ln_cover: float = 0.50
    air_c: float = 0.7
    """Of the bay's air against the weather's."""
    below_c: float = 1.0
    """Of the space below, against the air or its heating."""
    sensor_c: float = 0.4
    """Bias of each sensor."""
    ln_batch: float = 0.06
    """Of the strength of a batch."""
    ln_age: float = 0.08
    """Of the equivalent age: set, and gain in the first hours."""
    widened: float = 1.0
    """By how much every other is multiplied: above 1 where past forecasts were too sure."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time in which something is laid on, or heats."""

    from_ms: Ms
    to_ms: Ms
    """`FOR_EVER_MS`: until further notice."""
    value: float
    """Of a cover its resistance [m2K/W], of heating the temperature of the space below [degC]."""


@dataclass(frozen=True, slots=True)
class Point:
    """One sensor, or any point of which the temperature is wanted."""

    sensor: SensorId
    depth_share: float
    """0 top to 1 bottom."""
    edge: bool = False
    """At a side that is exposed: colder than the middle, by a share that is drawn."""
    series: Series | None = None
    """Its readings since the placing; None: none yet."""
    required: bool = True


@dataclass(frozen=True, slots=True)
class Slabwork:
    """A pour as the heat model sees it, before it is placed or while it cures."""

    pour: PourId
    """Also the seed: the same pour draws the same ensemble."""
    placed_ms: Ms
    """Middle of its placing, from which on it hydrates."""
    end_ms: Ms
    """End of its placing: from here on hours count."""
    thickness_mm: float
    hydration: Hydration
    """One column: as expected of the mix."""
    placing_c: float
    weather: Weather
    points: tuple[Point, ...]
    covers: tuple[Span, ...] = ()
    heated: tuple[Span, ...] = ()
    forms_off_ms: Ms = FOR_EVER_MS
    forms_m2_k_per_w: float = 0.165
    spread: Spread = field(default_factory=Spread)
    wet_h: float = 3.0
    """Hours from the placing on in which water stands on the surface (our judgement)."""


@dataclass(frozen=True, slots=True)
class Ensemble:
    """The members of a pour: what was drawn, or learned from its readings so far, and where each stands."""

    through_ms: Ms
    """Up to which hour its readings are in it."""
    drawn: Floats
    """Standard scores of the parameters (`cure.draws.PARAMETERS`), shape (parameters, members)."""
    state: State
    """Temperature and age at `through_ms`, shape (cells, members)."""


@dataclass(frozen=True, slots=True)
class Course:
    """A course in time of something, by the members: shape (times,)."""

    low: Floats
    """10 % of members lie below."""
    middle: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Expected:
    """When one operation's requirement is expected to be met. Expected, not released."""

    operation: Operation
    members_ms: Floats
    """Hour of each member, ascending; `NEVER`: not within the horizon. Shape (members,)."""
    governs: Mapping[Governs, float]
    """Share of members in which each is the last to be met."""
    spread: Mapping[Source, float]
    """Share of the variance of the hour; what the three do not explain is missing from their sum."""

    def at(self, chance: float) -> Ms | None:
        """Return the hour by which it is met with a chance of 0 to 1; None: not within the horizon."""
        i = min(len(self.members_ms) - 1, max(0, math.ceil(chance * len(self.members_ms)) - 1))
        hour = float(self.members_ms[i])
        return round(hour) if math.isfinite(hour) else None

    def levels_ms(self) -> tuple[Ms, ...]:
        """Return the hours by which it is met with a chance of 1, 2, ... 100 %; those that lie within the horizon."""
        # As `at`, all at once: each round asks.
        i = np.ceil(np.arange(1, 101) / 100 * len(self.members_ms)).astype(np.int64) - 1
        hours = self.members_ms[np.clip(i, 0, len(self.members_ms) - 1)]
        return tuple(np.round(hours[np.isfinite(hours)]).astype(np.int64).tolist())

    def chance_by(self, at_ms: Ms) -> float:
        """Return the chance that it is met by an hour."""
        return float(np.mean(self.members_ms <= at_ms))


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is foreseen of one pour. It releases nothing."""

    pour: PourId
    issued_ms: Ms
    through_ms: Ms
    """Of the readings it rests on."""
    horizon_ms: Ms
    """Nothing is said of later hours: they count as not met."""
    expected: Mapping[Operation, Expected]
    freezing: float
    """Chance that any point falls below 0 degC before the bound of strength is 3.5 MPa, within the horizon."""
    times_ms: NDArray[np.int64]
    """Shape (times,)."""
    coldest_c: Course
    """Of the coldest point of the slab."""
    governing_c: Course
    """Of the coldest required sensor."""
    bound_mpa: Course | None
    """Lower bound of strength of the governing sensor; None: no calibration."""
    notes: tuple[str, ...] = ()
    """Why it is wider than it might be: class default of the heat, air logger in place of a forecast, lost sensors."""


@dataclass(frozen=True, slots=True)
class NoForecast:
    """Why nothing is foreseen of a pour, and how to mend that."""

    pour: PourId
    reason: str
    how: str
