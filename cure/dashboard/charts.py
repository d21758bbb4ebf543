"""Strength in place and temperature of a pour as charts. Pure: plain values in, a chart to draw out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.dashboard.chart_words import WORDS, Words
from cure.dashboard.layers import Band, Chart, Layer, Level, Line, Panel, Point, Second, Shade, Strip, Upright
from cure.dashboard.scales import Mark, hours_of
from cure.dashboard.thinning import broken
from cure.maturity import Floats
from shared import units
from shared.models.base import HOUR_MS, Ms

ENGLISH: Final = WORDS["en"]
AGES_H: Final = (6, 12, 24, 48, 72, 96, 168, 336, 504, 672, 1008, 1344, 2016)
"""Marked on the second scale."""
NEAR_BELOW_C: Final = 10.0
NEAR_ABOVE_C: Final = 15.0
"""A limit further from every reading than this is not drawn: it would flatten the curves."""
_ROOM: Final = 2.0


@dataclass(frozen=True, slots=True)
class Window:
    """What part of a pour is shown, and how."""

    from_ms: Ms
    through_ms: Ms
    now_ms: Ms
    zone: str
    """Of the site's clock."""
    first: units.System = "SI"
    words: Words = ENGLISH

    def inside(self, at_ms: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return which hours are shown."""
        return (at_ms >= self.from_ms) & (at_ms <= self.through_ms)

    def celsius(self, c: Floats) -> Floats:
        """Return temperatures in the unit that is shown."""
        return np.asarray(c, float) * 9.0 / 5.0 + 32.0 if self.first == "US" else np.asarray(c, float)

    def mpa(self, mpa: Floats) -> Floats:
        """Return strengths in the unit that is shown."""
        return np.asarray(mpa, float) * (units.PSI_PER_MPA if self.first == "US" else 1.0)

    def degrees(self, c: float) -> str:
        """Return a limit of temperature with its unit."""
        return units.shown(c, "degC", first=self.first, limit=True)


@dataclass(frozen=True, slots=True)
class Tested:
    """Tests of the concrete at one hour and by one method."""

    at_ms: Ms
    mpa: tuple[float, ...]
    method: str
    by: str


@dataclass(frozen=True, slots=True)
class Foreseen:
    """Strength as it is expected; it releases nothing."""

    at_ms: NDArray[np.int64]
    low_mpa: Floats
    middle_mpa: Floats
    high_mpa: Floats


@dataclass(frozen=True, slots=True)
class Strength:
    """What the chart of strength shows. Arrays of shape (n,); not known: no number."""

    at_ms: NDArray[np.int64]
    estimate_mpa: Floats
    lower_bound_mpa: Floats
    equivalent_age_h: Floats
    required: tuple[tuple[str, float], ...] = ()
    """Operations, and the lower bound that each needs. [MPa]"""
    tested: tuple[Tested, ...] = ()
    forecast: Foreseen | None = None


@dataclass(frozen=True, slots=True)
class Sensor:
    """The readings of one sensor, as they were read."""

    name: str
    taken_ms: NDArray[np.int64]
    celsius: Floats
    longest_ms: int
    """A longer hole is not drawn over."""
    air: bool = False


@dataclass(frozen=True, slots=True)
class Missing:
    """A stretch in which sensors were not read, and in words which, and what is credited in it."""

    from_ms: Ms
    to_ms: Ms
    words: str


@dataclass(frozen=True, slots=True)
class Temperature:
    """What the chart of temperature shows."""

    sensors: tuple[Sensor, ...]
    counts_from_c: float | None = None
    """The limit of counted hours."""
    counted: tuple[tuple[Ms, Ms], ...] = ()
    cold: tuple[tuple[Ms, Ms], ...] = ()
    """Where the coldest zone was below it."""
    missing: tuple[Missing, ...] = ()
    limits: tuple[tuple[str, float], ...] = ()
    """Words, and the temperature. [degC]"""


def strength_chart(view: Strength, window: Window, key: str = "strength") -> Chart:
    """Return strength over the site's hours: lower bound and estimate, what is required, tests, equivalent age."""
    words, inside = window.words, window.inside(view.at_ms)
    at = view.at_ms[inside].astype(float)
    low, middle = window.mpa(view.lower_bound_mpa[inside]), window.mpa(view.estimate_mpa[inside])
    layers: list[Layer] = [
        Band(words.between, at, low, middle),
        Line(words.lower_bound, at, low, 0),
        Line(words.estimate, at, middle, 1),
    ]
    layers += _required(view, window)
    layers += _foreseen(view.forecast, window)
    layers += [_tested(test, window) for test in view.tested if window.from_ms <= test.at_ms <= window.through_ms]
    layers += _now(window)
    unit = "psi" if window.first == "US" else "MPa"
    panel = Panel(unit, tuple(layers), least=0.0, most=0.0)
    second = Second(words.equivalent_age, _ages(view, window))
    across = hours_of(window.zone, window.from_ms, window.through_ms, words.days)
    return Chart(key, words.strength, across, (panel,), second)


def _required(view: Strength, window: Window) -> Iterator[Level]:
    """Yield each strength that is required once, with all that it is required for."""
    for mpa in sorted({value for _, value in view.required}):
        names = ", ".join(name for name, value in view.required if value == mpa)
        limit = units.shown(mpa, "MPa", first=window.first, limit=True)
        yield Level(f"{names} {limit}", float(window.mpa(np.array(mpa))), short=f"{names} {_one(limit)}")


def _one(both: str) -> str:
    """Return a value in one unit, without the other in brackets."""
    return both.split(" (", maxsplit=1)[0]


def _foreseen(forecast: Foreseen | None, window: Window) -> list[Layer]:
    if forecast is None:
        return []
    inside, name = window.inside(forecast.at_ms), window.words.forecast
    at = forecast.at_ms[inside].astype(float)
    low, middle, high = (window.mpa(v[inside]) for v in (forecast.low_mpa, forecast.middle_mpa, forecast.high_mpa))
    return [Band(name, at, low, high), Line(name, at, middle, 4, "forecast")]


def _tested(test: Tested, window: Window) -> Point:
    mpa = window.mpa(np.array(test.mpa))
    found = ", ".join(units.shown(one, "MPa", first=window.first, limit=False) for one in test.mpa)
    title = window.words.tested.format(method=test.method, by=test.by) + found
    several = len(test.mpa) > 1
    low, high = (float(mpa.min()), float(mpa.max())) if several else (float("nan"), float("nan"))
    return Point(title, float(test.at_ms), float(mpa.mean()), low, high, form="diamond")


def _ages(view: Strength, window: Window) -> tuple[Mark, ...]:
    """Return the hour at which each marked age was reached, if it is shown."""
    known = np.isfinite(view.equivalent_age_h)
    ages, at_ms = view.equivalent_age_h[known], view.at_ms[known]
    found = []
    for age in AGES_H:
        i = int(np.searchsorted(ages, age))
        # At the first of them the age may have been reached long before.
        if 0 < i < len(ages) and ages[i] > ages[i - 1]:
            at = float(np.interp(age, ages[i - 1 : i + 1], at_ms[i - 1 : i + 1]))
            if window.from_ms <= at <= window.through_ms:
                found.append(Mark(at, f"{age} {window.words.hours}"))
    return tuple(found)


def _now(window: Window) -> list[Layer]:
    there = window.from_ms <= window.now_ms <= window.through_ms
    return [Upright(window.words.now, float(window.now_ms))] if there else []


def temperature_chart(view: Temperature, window: Window, key: str = "temperature") -> Chart:
    """Return each sensor's temperature over the site's hours; on the foot what counts and what is missing."""
    words = window.words
    lines = [_line(sensor, n, window) for n, sensor in enumerate(view.sensors)]
    shown = np.concatenate([line.y for line in lines]) if lines else np.empty(0)
    shown = shown[np.isfinite(shown)]
    layers: list[Layer] = [*lines]
    layers += _limits(view, window, shown)
    if view.counts_from_c is not None and view.cold:
        layers.append(Shade(f"{words.cold} {window.degrees(view.counts_from_c)}", "cold", _shown(view.cold, window)))
    layers += _now(window)
    low, high = (float(shown.min()) - _ROOM, float(shown.max()) + _ROOM) if len(shown) else (0.0, 1.0)
    unit = "°F" if window.first == "US" else "°C"
    panel = Panel(unit, tuple(layers), low, high, strips=tuple(_strips(view, window)))
    across = hours_of(window.zone, window.from_ms, window.through_ms, words.days)
    return Chart(key, words.temperature, across, (panel,))


def _line(sensor: Sensor, n: int, window: Window) -> Line:
    inside = window.inside(sensor.taken_ms)
    at, shown = sensor.taken_ms[inside].astype(float), window.celsius(sensor.celsius[inside])
    x, y = broken(at, shown, sensor.longest_ms)
    return Line(sensor.name, x, y, 4 if sensor.air else n, "air" if sensor.air else "")


def _limits(view: Temperature, window: Window, shown: Floats) -> Iterator[Level]:
    limits = [*view.limits]
    if view.counts_from_c is not None:
        limits.append((window.words.counts_from, view.counts_from_c))
    factor = 1.8 if window.first == "US" else 1.0
    for label, c in limits:
        value = float(window.celsius(np.array(c)))
        near = len(shown) > 0 and shown.min() - NEAR_BELOW_C * factor <= value <= shown.max() + NEAR_ABOVE_C * factor
        if near:
            yield Level(f"{label} {window.degrees(c)}", value, short=f"{label} {_one(window.degrees(c))}")


def _strips(view: Temperature, window: Window) -> Iterator[Strip]:
    if view.counts_from_c is not None:
        shown = "°F" if window.first == "US" else "°C"
        limit = f"{float(window.celsius(np.array(view.counts_from_c))):g} {shown}"
        yield Strip(f"≥ {limit} {window.words.counted}", _shown(view.counted, window))
    holes = _joined(view.missing, window)
    if holes:
        spans, titles = [(h.from_ms, h.to_ms) for h in holes], [h.words for h in holes]
        yield Strip(window.words.gaps, spans, hatched=True, titles=titles)


def _shown(spans: Sequence[tuple[Ms, Ms]], window: Window) -> list[tuple[Ms, Ms]]:
    return [(max(a, window.from_ms), min(b, window.through_ms)) for a, b in spans if _meets(a, b, window)]


def _meets(from_ms: Ms, to_ms: Ms, window: Window) -> bool:
    return from_ms < window.through_ms and to_ms > window.from_ms


def _joined(missing: Sequence[Missing], window: Window) -> list[Missing]:
    """Return the stretches that are shown, those of several sensors and very near ones as one."""
    near_ms = (window.through_ms - window.from_ms) // 300
    found: list[Missing] = []
    for m in sorted(missing, key=lambda m: (m.from_ms, m.to_ms, m.words)):
        if not _meets(m.from_ms, m.to_ms, window):
            continue
        if found and m.from_ms <= found[-1].to_ms + near_ms:
            was = found[-1]
            said = was.words if m.words in was.words else f"{was.words}; {m.words}"
            found[-1] = Missing(was.from_ms, max(was.to_ms, m.to_ms), said)
        else:
            found.append(m)
    return found


def hours_apart(from_ms: Ms, to_ms: Ms) -> str:
    """Return how long a stretch is, as it is shown. [h]"""
    return f"{(to_ms - from_ms) / HOUR_MS:.1f}"
