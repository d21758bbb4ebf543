"""The hours of operations of a pour that is not placed yet, by the members of its ensemble. Pure.

The lower bound of strength is worked out from what the sensors would read, as the gate works it out: the batch and the
curve count by the bound's allowance. Half the hours fall on the warm side of it; nothing here releases anything.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import Law
from cure.bay import FREEZE_SAFE_MPA
from cure.bound import lower_bound_mpa
from cure.draws import bias_c, drawn
from cure.ensemble import STEP_MS, Run, placed_ensemble, simulate
from cure.forecast import HORIZON_H, NEVER, Course, Expected, Forecast, Governs, Slabwork
from cure.maturity import Floats
from shared.models import requirement as r
from shared.models.base import HOUR_MS, Operation
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings

MEMBERS: Final = 100
"""Of a plan: a chance is told to a few percent (our judgement)."""
STEP_H: Final = STEP_MS / HOUR_MS
BY_PERSONS: Final = (r.DocumentRule, r.ConstructionLoadRule, r.ConsentRule, r.NoStripNearRule)
"""What people bring or do: taken to be in hand when the concrete is ready."""
NOT_TOLD: Final = (r.TestsRule, r.SurfaceNearAirRule, r.DropRule)
"""What no heat model tells beforehand: an operation that needs one has no hour."""
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Judged:
    """By what a pour will be judged."""

    requirements: Mapping[Operation, r.AllRule]
    """In the order in which they are told; what must be done before stands before."""
    calibration: Calibration
    mix: MixSettings


@dataclass(frozen=True, slots=True)
class _Grown:
    """One pour's members in time; arrays of shape (times, members)."""

    hours: Floats
    """Since the end of the pour, shape (times,)."""
    reading_c: Floats
    """Of the coldest required sensor."""
    bound_mpa: Floats
    done: dict[Operation, Mask]


def untold(rule: r.Rule) -> bool:
    """Return whether a requirement needs what no heat model tells."""
    if isinstance(rule, r.AllRule):
        return any(map(untold, rule.all))
    if isinstance(rule, r.AnyRule):
        return all(map(untold, rule.any))
    return isinstance(rule, NOT_TOLD)


def _counted(rule: r.CountedRule, grown: _Grown) -> Mask:
    warm = grown.reading_c >= rule.at_c
    each = np.where(warm[1:] & warm[:-1] & (grown.hours[1:] > 0.0)[:, None], STEP_H, 0.0)
    summed = np.concatenate((np.zeros_like(each[:1]), np.cumsum(each, axis=0)))
    return np.asarray(summed >= rule.counted_h - 1e-9)


def _warm(rule: r.WarmRule, grown: _Grown) -> Mask:
    steps = round(rule.warm_h / STEP_H)
    cold = np.cumsum(~(grown.reading_c >= rule.at_c), axis=0)
    before = np.concatenate((np.zeros((min(steps + 1, len(cold)), cold.shape[1]), np.int64), cold))[: len(cold)]
    return np.asarray((cold == before) & (grown.hours >= rule.warm_h)[:, None])


def _everywhere(grown: _Grown, value: Any) -> Mask:
    return np.broadcast_to(np.asarray(value, bool), grown.bound_mpa.shape)


_MET: Final[dict[type, Callable[[Any, _Grown], Mask]]] = {
    r.AgeRule: lambda rule, g: _everywhere(g, (g.hours >= rule.age_h)[:, None]),
    r.CountedRule: _counted,
    r.WarmRule: _warm,
    r.StrengthRule: lambda rule, g: np.asarray(g.bound_mpa >= rule.lower_bound_mpa),
    # Done in the hour in which it is ready: what crews need comes on top.
    r.DoneRule: lambda rule, g: g.done.get(Operation(rule.done), _everywhere(g, False)),
    r.AllRule: lambda rule, g: np.logical_and.reduce([_met(part, g) for part in rule.all]),
    r.AnyRule: lambda rule, g: np.logical_or.reduce([_met(way, g) for way in rule.any]),
    **{kind: lambda _, g: _everywhere(g, True) for kind in BY_PERSONS},
    **{kind: lambda _, g: _everywhere(g, False) for kind in NOT_TOLD},
}


def _met(rule: r.Rule, grown: _Grown) -> Mask:
    return _MET[type(rule)](rule, grown)


def _first(met: Mask) -> NDArray[np.int64]:
    """Return the first step of each member at which it is met; the number of steps: never."""
    return np.where(met.any(axis=0), np.argmax(met, axis=0), len(met))


def _parts(rule: r.Rule) -> list[r.Rule]:
    return [inner for part in rule.all for inner in _parts(part)] if isinstance(rule, r.AllRule) else [rule]


def _governs(rule: r.AllRule, grown: _Grown) -> Mapping[Governs, float]:
    """Return the share of members in which clock, cold or strength is what is waited for last."""
    firsts: dict[Governs, NDArray[np.int64]] = {}
    for part in _parts(rule):
        first = _first(_met(part, grown))
        if isinstance(part, r.CountedRule):
            # As by the clock where no hour was lost to the cold.
            by_clock = int(np.searchsorted(grown.hours, part.counted_h - 1e-9))
            late = np.where(first > by_clock, first, -1)
            on_time = np.where(first > by_clock, -1, first)
            _later(firsts, Governs.COLD, late)
            _later(firsts, Governs.CLOCK, on_time)
        elif isinstance(part, r.WarmRule):
            _later(firsts, Governs.COLD, np.where(first * STEP_H > grown.hours[0] + part.warm_h + STEP_H, first, -1))
        elif isinstance(part, r.AgeRule):
            _later(firsts, Governs.CLOCK, first)
        elif isinstance(part, r.StrengthRule | r.AnyRule):
            _later(firsts, Governs.STRENGTH, first)
    if not firsts:
        return {}
    names = list(firsts)
    last = np.argmax(np.stack([firsts[name] for name in names]), axis=0)
    return {name: float(np.mean(last == n)) for n, name in enumerate(names)}


def _later(firsts: dict[Governs, NDArray[np.int64]], name: Governs, first: NDArray[np.int64]) -> None:
    firsts[name] = first if name not in firsts else np.maximum(firsts[name], first)


def _course(values: Floats) -> Course:
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9], axis=1)
    return Course(low, middle, high)


def _grown(work: Slabwork, run: Run, scores: Floats, judged: Judged) -> _Grown:
    biased = [run.points_c[:, k] + bias_c(work, scores, k) for k, p in enumerate(work.points) if p.required]
    # Of all required sensors the coldest at each time: never more than any of them earns by itself.
    reading = np.min(np.stack(biased), axis=0)
    hours = (run.times_ms - work.end_ms) / HOUR_MS
    mean = 0.5 * (reading[1:] + reading[:-1])
    law = Law.of(judged.calibration)
    earned = law.rates(mean.ravel()).reshape(*mean.shape, -1) * STEP_H
    # Credit begins at the end of the pour.
    earned *= np.clip(hours[1:] / STEP_H, 0.0, 1.0)[:, None, None]
    sums = np.concatenate((np.zeros_like(earned[:1]), np.cumsum(earned, axis=0)))
    bound = lower_bound_mpa(sums.reshape(-1, sums.shape[-1]), judged.calibration, judged.mix).reshape(reading.shape)
    return _Grown(hours, reading, bound, {})


def _forecast(work: Slabwork, run: Run, scores: Floats, judged: Judged) -> Forecast:
    grown, expected = _grown(work, run, scores, judged), {}
    # Of hours without weather nothing is said.
    known = run.times_ms <= work.weather.hours_ms[-1]
    for operation, rule in judged.requirements.items():
        if untold(rule):
            continue
        met = np.logical_or.accumulate(_met(rule, grown), axis=0) & known[:, None]
        grown.done[operation] = met
        first = _first(met)
        times = np.append(run.times_ms.astype(np.float64), NEVER)
        expected[operation] = Expected(operation, np.sort(times[first]), _governs(rule, grown), {})
    young = grown.bound_mpa < FREEZE_SAFE_MPA
    frozen = np.any((run.coldest_c < 0.0) & young, axis=0)
    return Forecast(
        work.pour,
        work.weather.issued_ms,
        work.placed_ms,
        int(run.times_ms[known][-1]) if known.any() else work.placed_ms,
        expected,
        float(np.mean(frozen)),
        run.times_ms,
        _course(run.coldest_c),
        _course(grown.reading_c),
        _course(grown.bound_mpa),
    )


def foreseen(
    works: Sequence[Slabwork], judged: Sequence[Judged], *, hours: int = HORIZON_H, members: int = MEMBERS
) -> list[Forecast]:
    """Return what is foreseen of pours from their placing on, each beside the others.

    An operation whose requirement needs what no heat model tells is left out.

    Args:
        works: the pours; of each one point or more is required.
        judged: by what each will be judged.
        hours: from the placing on; what comes later counts as not met.
        members: of each ensemble.

    Raises:
        ValueError: the weather of a pour begins after its placing.
    """
    if not works:
        return []
    if any(w.placed_ms < w.weather.hours_ms[0] for w in works):
        raise ValueError("no weather is known for the hour of the placing")
    scores = [drawn(w.pour, len(w.points), members) for w in works]
    ensembles = [placed_ensemble(w, s) for w, s in zip(works, scores, strict=True)]
    runs = simulate(list(works), ensembles, [int(hours / STEP_H)] * len(works))
    return [_forecast(*of) for of in zip(works, runs, scores, judged, strict=True)]
