"""What a pour's own readings teach its ensemble: a smoother with multiple data assimilation. Pure.

Source: A. A. Emerick, A. C. Reynolds, "Ensemble smoother with multiple data assimilation", Computers & Geosciences 55,
2013 (from memory). A stretch of a day is learned from at once; what is carried stands at the end of the last whole
day, so that going on from it gives the very numbers that the whole record gives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.draws import bias_c, drawn, learned_rows, rng_of
from cure.ensemble import STEP_MS, Run, placed_ensemble, simulate
from cure.forecast import Ensemble, Slabwork
from cure.maturity import Floats
from cure.slab import State
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.readings import Series

PASSES: Final = 3
"""Each with errors of so many times the variance."""
EVERY: Final = HOUR_MS // STEP_MS
"""A reading an hour is learned from."""
NOISE_SD_C: Final = 0.25
"""Of a reading by itself."""
MODEL_SD_C: Final = 0.5
MODEL_H: Final = 6.0
"""Of the model, alike over so many hours: readings close to each other say the same twice (our judgement)."""
FIRST_H: Final = 0.5
"""A sensor takes so long after the placing to read the concrete (our judgement)."""
FARTHEST_SDS: Final = 5.0
"""A reading farther from the members than this is an error of its own (our judgement)."""
LONGEST_HOLE_MS: Final = HOUR_MS
"""Between readings a longer hole is not bridged."""


def begun(work: Slabwork, members: int) -> Ensemble:
    """Return the ensemble of a pour of which no reading is known."""
    return placed_ensemble(work, drawn(work.pour, len(work.points), members))


def learned(
    works: Sequence[Slabwork], carried: Sequence[Ensemble], through_ms: Sequence[Ms]
) -> list[tuple[Ensemble, Ensemble]]:
    """Return for each pour the ensemble to carry, and the one that knows all readings through an hour.

    Args:
        works: the pours, with their readings.
        carried: of each, as `begun` or as carried before.
        through_ms: not before what is carried; what is over a whole number of steps is left for later.
    """
    keep, now = list(carried), list(carried)
    ends = [_on_grid(work, through) for work, through in zip(works, through_ms, strict=True)]
    while True:
        wanted = [k for k in range(len(works)) if now[k].through_ms < ends[k]]
        if not wanted:
            return list(zip(keep, now, strict=True))
        until = [min(ends[k], _block_end_ms(works[k], keep[k].through_ms)) for k in wanted]
        for k, found in zip(
            wanted, _smoothed([works[k] for k in wanted], [keep[k] for k in wanted], until), strict=True
        ):
            now[k] = found
            if found.through_ms == _block_end_ms(works[k], keep[k].through_ms):
                keep[k] = found


def _on_grid(work: Slabwork, through_ms: Ms) -> Ms:
    return work.placed_ms + (through_ms - work.placed_ms) // STEP_MS * STEP_MS


def _block_end_ms(work: Slabwork, from_ms: Ms) -> Ms:
    return work.placed_ms + ((from_ms - work.placed_ms) // DAY_MS + 1) * DAY_MS


def _smoothed(works: Sequence[Slabwork], starts: Sequence[Ensemble], until_ms: Sequence[Ms]) -> list[Ensemble]:
    """Return the ensembles at later hours, with what was read on the way there."""
    starts = list(starts)
    steps = [(end - start.through_ms) // STEP_MS for start, end in zip(starts, until_ms, strict=True)]
    readings = [_readings(*of) for of in zip(works, starts, steps, strict=True)]
    for i in range(PASSES):
        known = [k for k, of in enumerate(readings) if of.any()]
        if not known:
            break
        runs = simulate([works[k] for k in known], [starts[k] for k in known], [steps[k] for k in known])
        for k, run in zip(known, runs, strict=True):
            readings[k] = _believed(works[k], run, readings[k], starts[k].drawn) if i == 0 else readings[k]
            starts[k] = _updated(works[k], starts[k], run, readings[k], i)
    runs = simulate(works, starts, steps)
    return [Ensemble(end, start.drawn, run.end) for end, start, run in zip(until_ms, starts, runs, strict=True)]


class _Readings:
    """What a pour's points read at some of the steps of a stretch."""

    def __init__(self, step: NDArray[np.int64], point: NDArray[np.int64], c: Floats) -> None:
        self.step, self.point, self.c = step, point, c

    def any(self) -> bool:
        return len(self.c) > 0

    def covariance(self) -> Floats:
        """Of the errors of readings and model, shape (readings, readings). [K2]"""
        hours = np.abs(self.step[:, None] - self.step) * (STEP_MS / HOUR_MS)
        same = self.point[:, None] == self.point
        model = np.where(same, MODEL_SD_C**2 * np.exp(-hours / MODEL_H), 0.0)
        return np.asarray(model + NOISE_SD_C**2 * np.eye(len(self.c)))


def _readings(work: Slabwork, start: Ensemble, steps: int) -> _Readings:
    """Return the readings after the start through the last step, an hour apart."""
    at = np.arange(EVERY, steps + 1, EVERY, dtype=np.int64)
    at = at[start.through_ms + STEP_MS * at >= work.placed_ms + FIRST_H * HOUR_MS]
    step, point, c = [at[:0]], [at[:0]], [np.empty(0)]
    for k, of in enumerate(work.points):
        if of.series is None:
            continue
        read = reading_c(of.series, start.through_ms + STEP_MS * at)
        known = np.isfinite(read)
        step.append(at[known])
        point.append(np.full(int(known.sum()), k, np.int64))
        c.append(read[known])
    return _Readings(np.concatenate(step), np.concatenate(point), np.concatenate(c))


def reading_c(series: Series, times_ms: NDArray[np.int64]) -> Floats:
    """Return what a sensor read at some hours, between two readings by the line; NaN: nobody knows. [degC]"""
    if len(series) == 0:
        return np.full(len(times_ms), np.nan)
    after = np.minimum(np.searchsorted(series.taken_ms, times_ms), len(series) - 1)
    before = np.maximum(np.searchsorted(series.taken_ms, times_ms, side="right") - 1, 0)
    inside = (series.taken_ms[before] <= times_ms) & (series.taken_ms[after] >= times_ms)
    near = series.taken_ms[after] - series.taken_ms[before] <= LONGEST_HOLE_MS
    read = np.interp(times_ms, series.taken_ms, series.milli_c / 1000.0)
    return np.asarray(np.where(inside & near, read, np.nan))


def _believed(work: Slabwork, run: Run, readings: _Readings, scores: Floats) -> _Readings:
    """Return the readings that the members can make anything of: not one far from all of them."""
    said = _said(work, run, readings, scores)
    near = said.var(axis=1) + np.diag(readings.covariance())
    kept = np.abs(readings.c - said.mean(axis=1)) <= FARTHEST_SDS * np.sqrt(near)
    return _Readings(readings.step[kept], readings.point[kept], readings.c[kept])


def _said(work: Slabwork, run: Run, readings: _Readings, scores: Floats) -> Floats:
    biases = np.stack([bias_c(work, scores, k) for k in range(len(work.points))])
    return np.asarray(run.points_c[readings.step, readings.point] + biases[readings.point])


def _updated(work: Slabwork, start: Ensemble, run: Run, readings: _Readings, turn: int) -> Ensemble:
    """Return an ensemble at the start of a stretch after one pass of the smoother."""
    members = start.drawn.shape[1]
    said = _said(work, run, readings, start.drawn)
    error = PASSES * readings.covariance()
    rng = rng_of(work.pour, f"pass {turn} from {start.through_ms - work.placed_ms}")
    noise = rng.standard_normal((len(readings.c), members))
    noise -= noise.mean(axis=1, keepdims=True)
    off = readings.c[:, None] + np.linalg.cholesky(error) @ noise - said
    apart = said - said.mean(axis=1, keepdims=True)
    weighed = np.linalg.solve(apart @ apart.T / (members - 1) + error, off)

    def moved(values: Floats) -> Floats:
        around = values - values.mean(axis=1, keepdims=True)
        # In this order no product is of members by members.
        return np.asarray(values + (around @ apart.T) @ weighed / (members - 1))

    scores, rows = start.drawn.copy(), learned_rows(len(work.points))
    scores[rows] = moved(scores[rows])
    if start.through_ms == work.placed_ms:
        return replace(placed_ensemble(work, scores), through_ms=start.through_ms)
    state = State(moved(start.state.temperature_c), np.maximum(0.0, moved(start.state.age_h)))
    return Ensemble(start.through_ms, scores, state)
