"""How the evidence of a pour goes on in each member of its ensemble: readings, counted hours, bound. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import COLUMNS, Law
from cure.bound import lower_bound_mpa
from cure.draws import bias_c
from cure.ensemble import STEP_MS, Run
from cure.forecast import Ensemble, Slabwork
from cure.in_place import InPlace, in_place_c
from cure.maturity import Floats
from shared.models.base import HOUR_MS, Ms, Operation, SensorId
from shared.models.calibration import Calibration
from shared.models.requirement import Rule
from shared.models.setup import MixSettings

FADES_H: Final = 12.0
"""What the newest reading says beside the model fades so fast (our judgement)."""
BOUND_EVERY: Final = 4
"""Steps between which the bound goes by the line."""
COLDEST_C, HOTTEST_C, FINE_C = -40.0, 80.0, 0.02


@dataclass(frozen=True, slots=True)
class Earned:
    """What a pour has earned so far, by its evidence: where the members go on from."""

    through_ms: Ms
    """The watermark; of a pour without any evidence its end, before which nothing is earned."""
    sums: Mapping[SensorId, Floats] = field(default_factory=dict)
    """Of each required sensor, shape (7,); absent: nothing yet."""
    newest_c: Mapping[SensorId, float] = field(default_factory=dict)
    """What each said then."""
    counted_h: Mapping[float, float] = field(default_factory=dict)
    """Counted hours by their limit [degC]."""
    lowered_c: float = 0.0
    """Taken off every reading before it counts: no sensor at the edge."""
    done: frozenset[Operation] = frozenset()
    unmet: tuple[Rule, ...] = ()
    """Rules that time does not meet, and that are not met: a way that asks for one is no way."""
    in_place: Mapping[SensorId, InPlace] = field(default_factory=dict)
    """What stands in for each sensor that is silent."""


@dataclass(frozen=True)
class Onward:
    """The evidence of each member from `through_ms` on, in steps of `STEP_MS`."""

    work: Slabwork
    earned: Earned
    hours: Floats
    """Since `through_ms`, shape (times,)."""
    read_c: Floats
    """What counts of each required sensor, shape (times, sensors, members)."""
    concrete_c: Floats
    """Of the concrete at each required sensor, shape (times, sensors, members)."""
    coldest_c: Floats
    """Of the concrete anywhere, shape (times, members)."""
    bound_hours: Floats
    bound_mpa: Floats | None
    """Of the governing sensor, shape (bound hours, members); None: no calibration."""

    @property
    def governing_c(self) -> Floats:
        """Coldest of the required sensors, shape (times, members)."""
        return np.asarray(self.read_c.min(axis=1))


@lru_cache(maxsize=64)
def _table(law: Law) -> Floats:
    """Return the rates of a law at temperatures 0.02 degC apart, shape (n, 7)."""
    return law.rates(np.arange(COLDEST_C, HOTTEST_C + FINE_C, FINE_C))


def rates(law: Law, temperature_c: Floats) -> Floats:
    """Return the rates of a law by its table, shape (..., 7): never those of a temperature that is higher.

    What is no number earns nothing, as the coldest.
    """
    place = np.nan_to_num(np.floor((temperature_c - COLDEST_C) / FINE_C), nan=0.0)
    return np.asarray(_table(law)[np.clip(place, 0, round((HOTTEST_C - COLDEST_C) / FINE_C)).astype(np.int64)])


def onward(
    work: Slabwork,
    ensemble: Ensemble,
    run: Run,
    earned: Earned,
    calibration: Calibration | None,
    mix: MixSettings,
) -> Onward:
    """Return how the evidence of a pour goes on in each member.

    Args:
        work: the pour.
        ensemble: its members, as the run began.
        run: what they do, from a hour at or shortly before the evidence's on.
        earned: what there is so far.
        calibration: of the mix; None: no strength is foreseen.
        mix: its settings.
    """
    points, coldest = (_from_evidence(run, earned, values) for values in (run.points_c, run.coldest_c))
    hours = np.arange(len(points), dtype=np.float64) * (STEP_MS / HOUR_MS)
    required = [k for k, p in enumerate(work.points) if p.required]
    read = np.stack([_read_c(work, ensemble, points, hours, earned, k) for k in required], axis=1)
    # What is read, without the sensors' own errors.
    biases = np.stack([bias_c(work, ensemble.drawn, k) for k in required])
    concrete = read + earned.lowered_c - biases
    # Colder than the model where its readings are; not warmer, which they cannot say of every point. What stands in for
    # a silent sensor is no reading.
    speak = [i for i, k in enumerate(required) if work.points[k].sensor not in earned.in_place]
    if speak:
        coldest = coldest + np.minimum(0.0, (concrete - points[:, required])[:, speak].mean(axis=1))
    names = [work.points[k].sensor for k in required]
    bound_hours, bound = _bounds(read, hours, names, earned, calibration, mix)
    return Onward(work, earned, hours, read, concrete, coldest, bound_hours, bound)


def _from_evidence(run: Run, earned: Earned, values: Floats) -> Floats:
    """Return a run's values at the evidence's hour and each step from it, by the line."""
    late = (earned.through_ms - run.from_ms) / STEP_MS
    first, part = int(late), late - int(late)
    if part == 0.0:
        return values[first:]
    return np.asarray((1.0 - part) * values[first:-1] + part * values[first + 1 :])


def _read_c(work: Slabwork, ensemble: Ensemble, points_c: Floats, hours: Floats, earned: Earned, k: int) -> Floats:
    """Return what one sensor will read and what of it counts, shape (times, members)."""
    expected = points_c[:, k] + bias_c(work, ensemble.drawn, k) - earned.lowered_c
    sensor = work.points[k].sensor
    newest, silent = earned.newest_c.get(sensor), earned.in_place.get(sensor)
    if newest is None:
        return np.asarray(expected)
    if silent is not None:
        return in_place_c(silent, work, ensemble.drawn, expected, newest, earned.through_ms, hours)
    fading = np.exp(-hours / FADES_H)[:, None]
    return np.asarray(expected + fading * (newest - expected[0]))


def _bounds(
    read_c: Floats,
    hours: Floats,
    names: Sequence[SensorId],
    earned: Earned,
    calibration: Calibration | None,
    mix: MixSettings,
) -> tuple[Floats, Floats | None]:
    if calibration is None:
        return hours[:1], None
    law, counts = Law.of(calibration), np.diff(hours)
    at = np.arange(0, len(hours), BOUND_EVERY)
    at = np.append(at, len(hours) - 1) if at[-1] != len(hours) - 1 else at
    lowest = np.full((len(at), read_c.shape[2]), np.inf)
    for s, name in enumerate(names):
        mean = 0.5 * (read_c[1:, s] + read_c[:-1, s])
        gained = np.cumsum(rates(law, mean) * counts[:, None, None], axis=0)
        sums = np.concatenate((np.zeros((1, *gained.shape[1:])), gained))[at] + earned.sums.get(name, np.zeros(COLUMNS))
        bound = lower_bound_mpa(sums.reshape(-1, COLUMNS), calibration, mix).reshape(lowest.shape)
        # Not fmin: a NaN must stay one.
        lowest = np.minimum(lowest, bound)
    return hours[at], lowest


def crossing_h(hours: NDArray[np.float64], values: Floats, wanted: float) -> Floats:
    """Return when each member first reaches a value, by the line; infinite: not in these hours, shape (members,)."""
    there = values >= wanted
    first = np.argmax(there, axis=0)
    members = np.arange(values.shape[1])
    before = np.maximum(first - 1, 0)
    low, high = values[before, members], values[first, members]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(high > low, (wanted - low) / (high - low), 1.0)
    found = hours[before] + np.clip(part, 0.0, 1.0) * (hours[first] - hours[before])
    return np.asarray(np.where(there.any(axis=0), np.where(first == 0, hours[0], found), np.inf))
