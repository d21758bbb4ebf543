"""The curves of a bay for other software: what its page draws, as numbers. Hours bear the site's offset; SI units."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from cure.dashboard.api_door import ApiParts, Caller, CallerIn, ProblemError
from cure.dashboard.api_reads import BayInPath, From, To, in_ms
from cure.dashboard.api_views import hour
from cure.dashboard.chart_words import WORDS
from cure.dashboard.charts import Foreseen, Sensor, Strength, Temperature, Window
from cure.dashboard.pour_view import PourView
from cure.dashboard.rules import API
from cure.dashboard.thinning import COLUMN, thinned
from cure.requirements import strength_rule
from shared.models.base import Ms

COLUMNS: Final = 400
"""Of a curve: of each the lowest and the highest reading are told, so that no peak and no freezing minute is lost."""


class StrengthPoint(BaseModel):
    """Strength in place at one hour; null: not known."""

    at: datetime
    estimate_mpa: float | None
    lower_bound_mpa: float | None
    equivalent_age_h: float | None


class ForeseenPoint(BaseModel):
    """The lower bound as it is foreseen at one hour. It releases nothing."""

    at: datetime
    low_mpa: float | None
    """9 in 10 are higher."""
    middle_mpa: float | None
    high_mpa: float | None


class Needed(BaseModel):
    """The lower bound that an operation needs."""

    operation: str
    lower_bound_mpa: float


class TestedAt(BaseModel):
    """Tests of the concrete at one hour and by one method."""

    at: datetime
    method: str
    by: str
    mpa: list[float]


class TemperaturePoint(BaseModel):
    """What a sensor read."""

    at: datetime
    temperature_c: float


class SensorCurve(BaseModel):
    """One sensor; where nothing was read for long there is no point."""

    sensor: str
    in_air: bool
    readings: list[TemperaturePoint]
    """At most the lowest and the highest of each stretch; `readings?sensor=` has all."""


class Stretch(BaseModel):
    """From an hour to another."""

    begins: datetime
    ends: datetime


class Hole(Stretch):
    """A stretch in which sensors were not read."""

    words: str
    """Which, and what is credited in it."""


class CurveAnswer(BaseModel):
    """The curves of a bay's open pour. A curve releases nothing: `gates` says what is released."""

    bay: str
    pour: str
    begins: datetime
    ends: datetime
    strength: list[StrengthPoint]
    foreseen: list[ForeseenPoint]
    """EXPECTED, NOT RELEASED. Empty: nothing is foreseen, or no strength."""
    required: list[Needed]
    tests: list[TestedAt]
    sensors: list[SensorCurve]
    counts_from_c: float | None
    """The limit of counted hours; null: no operation waits for any."""
    counted: list[Stretch]
    cold: list[Stretch]
    """Where the coldest zone was known to be below that limit."""
    missing: list[Hole]
    caution: str


def curves(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the routes of curves."""

    def curve(caller: CallerIn, bay: BayInPath, since: From = None, to: To = None) -> CurveAnswer:
        """Strength, its bound, temperatures, counted hours and gaps; `from` begins with the first concrete."""
        row = next((row for row in api.parts.board.board() if row.pour.bay == bay), None)
        if row is None:
            raise ProblemError(404, f"no pour is open in a bay {bay}")
        view = api.parts.look(row.pour.id)
        begin, end = (None if at is None else in_ms(at) for at in (since, to))
        window = view.window(begin, end, first="SI", words=WORDS[caller.reader.language])
        return _curve(view, window, caller, bay, api.caution)

    return {("GET", f"{API}/bays/{{bay}}/curve"): curve}


def _curve(view: PourView, window: Window, caller: Caller, bay: str, caution: str) -> CurveAnswer:
    strength, temperature = view.strength(window), view.temperature(window)
    rules = ((operation, strength_rule(force.rule)) for operation, force in view.required.items())
    tests = [test for test in strength.tested if window.from_ms <= test.at_ms <= window.through_ms]

    def at(ms: Ms) -> datetime:
        return hour(ms, caller.site)

    def shown(spans: Sequence[tuple[Ms, Ms]]) -> list[Stretch]:
        return [Stretch(begins=at(a), ends=at(b)) for a, b in _inside(spans, window)]

    holes = [(h.from_ms, h.to_ms, h.words) for h in temperature.missing]
    return CurveAnswer(
        bay=bay,
        pour=view.case.pour.id,
        begins=at(window.from_ms),
        ends=at(window.through_ms),
        strength=list(_strength(strength, window, at)),
        foreseen=list(_foreseen(strength.forecast, window, at)),
        required=[Needed(operation=op, lower_bound_mpa=r.lower_bound_mpa) for op, r in rules if r is not None],
        tests=[TestedAt(at=at(t.at_ms), method=t.method, by=t.by, mpa=list(t.mpa)) for t in tests],
        sensors=list(_sensors(temperature, window, at)),
        counts_from_c=temperature.counts_from_c,
        counted=shown(temperature.counted),
        cold=shown(temperature.cold),
        missing=[
            Hole(begins=at(a), ends=at(b), words=said)
            for from_ms, to_ms, said in holes
            for a, b in _inside([(from_ms, to_ms)], window)
        ],
        caution=caution,
    )


def _inside(spans: Sequence[tuple[Ms, Ms]], window: Window) -> Iterator[tuple[Ms, Ms]]:
    for begin, end in spans:
        if begin < window.through_ms and end > window.from_ms:
            yield max(begin, window.from_ms), min(end, window.through_ms)


def _number(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None


def _strength(of: Strength, window: Window, at: Callable[[Ms], datetime]) -> Iterator[StrengthPoint]:
    for i in np.flatnonzero(window.inside(of.at_ms)):
        yield StrengthPoint(
            at=at(int(of.at_ms[i])),
            estimate_mpa=_number(of.estimate_mpa[i]),
            lower_bound_mpa=_number(of.lower_bound_mpa[i]),
            equivalent_age_h=_number(of.equivalent_age_h[i]),
        )


def _foreseen(of: Foreseen | None, window: Window, at: Callable[[Ms], datetime]) -> Iterator[ForeseenPoint]:
    if of is None:
        return
    for i in np.flatnonzero(window.inside(of.at_ms)):
        low, middle, high = (_number(mpa[i]) for mpa in (of.low_mpa, of.middle_mpa, of.high_mpa))
        yield ForeseenPoint(at=at(int(of.at_ms[i])), low_mpa=low, middle_mpa=middle, high_mpa=high)


def _sensors(of: Temperature, window: Window, at: Callable[[Ms], datetime]) -> Iterator[SensorCurve]:
    for sensor in of.sensors:
        readings = [
            TemperaturePoint(at=at(int(sensor.taken_ms[i])), temperature_c=float(sensor.celsius[i]))
            for i in _kept(sensor, window)
        ]
        yield SensorCurve(sensor=sensor.name.partition(" ")[0], in_air=sensor.air, readings=readings)


def _kept(sensor: Sensor, window: Window) -> NDArray[np.int64]:
    """Return which readings are told, shape (n,)."""
    inside = np.flatnonzero(window.inside(sensor.taken_ms))
    if not len(inside):
        return inside
    across = (sensor.taken_ms[inside] - window.from_ms) / (window.through_ms - window.from_ms)
    return inside[thinned(across * COLUMNS * COLUMN, sensor.celsius[inside])]
