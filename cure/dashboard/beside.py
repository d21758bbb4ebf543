"""What stands beside the pages: answers of parts that they may not load, as plain values. `deploy` hands them in.

A fit takes scipy, and loggers nobody placed are told by their messages: the pages load neither.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cure.dashboard.rates_chart import Rate
from cure.first_reading import Check, Warmth
from cure.forecast import Weather
from cure.loggers import LoggerRow
from shared.models.base import Json, MilliC, Ms, SensorId
from shared.models.calibration import Calibration
from shared.models.forecasts import ScoredForecast


@dataclass(frozen=True, slots=True)
class Refusals:
    """How many messages of a sensor or a logger were refused within a day."""

    messages: int
    reason: str
    """Most often."""


@dataclass(frozen=True, slots=True)
class LoggersSeen:
    """Every placed sensor, and every one that sends and lies nowhere."""

    rows: Sequence[LoggerRow]
    """Of stored readings without the value: `Beside.newest` tells it of those that are shown."""
    refused: Mapping[str, Refusals]
    """By sensor or logger; "" is all of it."""


@dataclass(frozen=True, slots=True)
class Programme:
    """A laboratory's programme as it was typed, pasted or read from a file."""

    mix: str
    breaks: str
    """CSV."""
    temperatures: str
    """CSV; "": none."""
    lab_c: float | None
    """Temperature of a laboratory without such a record. [degC]"""
    dose_class: str
    supplier: str
    laboratory: str
    made_on: str
    """Date, YYYY-MM-DD."""
    valid_until: str
    """Likewise; "": as long as is usual."""
    version: int
    """Of the calibration that may come of it."""
    cubes: str = ""
    """CSV of mortar cubes cured at three temperatures; "": none."""
    own_cylinders: bool = False
    """Whether a pour's own early cylinders may lower its curve at once."""
    narrow_to_percent: float | None = None
    """And may narrow the spread of its batch to this; None: they narrow nothing."""
    narrow_from: float | None = None
    """From so many of them on; None: as is usual."""
    batch_sd_percent: float | None = None
    """Spread of the mix's batches; None: the usual one."""
    thresholds_mpa: tuple[float, ...] = ()
    """Strengths that requirements ask for, by which the fit is judged; none: the usual ones."""

    def to_json(self) -> dict[str, Json]:
        """Return it as a JSON object."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class CubesJudged:
    """What became of mortar cubes."""

    number: int
    verdict: str
    reasons: tuple[str, ...]
    energy_kj_per_mol: float | None
    """None: none came of them."""
    sd_kj_per_mol: float | None
    tested_c: tuple[float, float]
    """Coldest and hottest temperature of curing. [degC]"""
    datum_c: float | None
    """Datum temperature, for contracts that ask for it; None: none. [degC]"""
    rates: tuple[Rate, ...]
    """The rate constant at each temperature that has one, coldest first."""
    ln_k_at_zero: float | None
    """Of the line through them at 1/T = 0, k in 1/d; None: there is no line."""

    @staticmethod
    def from_json(said: Mapping[str, Any]) -> CubesJudged:
        """Return it from a JSON object of the names above."""
        low, high = said["tested_c"]
        rates = tuple(Rate(*map(float, rate)) for rate in said["rates"])
        return CubesJudged(**{**said, "reasons": tuple(said["reasons"]), "tested_c": (low, high), "rates": rates})


@dataclass(frozen=True, slots=True)
class Judgement:
    """What became of a programme."""

    verdict: str
    reasons: tuple[str, ...]
    wanted: tuple[str, ...]
    """Tests that would mend it."""
    outliers: tuple[str, ...]
    cylinders: tuple[tuple[str, float, float], ...]
    """Specimen, equivalent age [h], strength [MPa]."""
    thresholds_mpa: tuple[float, ...]
    calibration: Calibration | None
    """None: it was refused."""
    file: str = ""
    """The calibration as a TOML file; "": there is none."""
    cubes: CubesJudged | None = None
    """None: there were none."""

    @staticmethod
    def from_json(said: Mapping[str, Any]) -> Judgement:
        """Return it from a JSON object of the names above."""
        calibration = said["calibration"]
        return Judgement(
            verdict=said["verdict"],
            reasons=tuple(said["reasons"]),
            wanted=tuple(said["wanted"]),
            outliers=tuple(said["outliers"]),
            cylinders=tuple((name, float(age), float(mpa)) for name, age, mpa in said["cylinders"]),
            thresholds_mpa=tuple(said["thresholds_mpa"]),
            calibration=None if calibration is None else Calibration.model_validate(calibration),
            file=said["file"],
            cubes=None if said["cubes"] is None else CubesJudged.from_json(said["cubes"]),
        )


@dataclass(frozen=True, slots=True)
class Beside:
    """What the pages ask of others."""

    judge: Callable[[Programme], Judgement]
    """Fits and judges a programme, in a process of its own. Raises `SetupError` for what cannot be read, `StoreError`
    when it could not be done."""
    loggers: Callable[[], LoggersSeen]
    newest: Callable[[Sequence[SensorId]], Mapping[SensorId, MilliC]]
    """The newest stored value of each sensor that has one."""
    check: Callable[[str], Mapping[SensorId, Sequence[Check]]]
    """The first-reading check of a sensor, or of each sensor of a logger; none: nothing is known of it."""
    warmth: Callable[[SensorId, Ms], Warmth]
    """Whether a sensor has felt the hand that holds it since an hour."""
    sheets: Callable[[str, str, Sequence[str]], Sequence[str]]
    """Sheets of labels as SVG: address of the pages, paper, bays."""
    table: Callable[[str, Sequence[str]], str]
    """A table as CSV, as `slabhour export` writes it: its name, bays (none: all)."""
    scored: Callable[[], Sequence[ScoredForecast]]
    """Forecasts with their scores, in the order of scoring."""
    weather_heard: Callable[[], Ms | None]
    """When the site's weather was last heard; None: never, or it has none."""
    weather: Callable[[tuple[Ms, Ms]], Weather | None]
    """The weather that the site holds from an hour to another; None: none that can be used. Raises `StoreError`."""
