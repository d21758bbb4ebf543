"""The forecast of pours: learned from their readings, run on, and read as hours of their operations. Pure.

What is foreseen is told, and releases nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from cure.assimilate import begun, learned
from cure.bay import FREEZE_SAFE_MPA
from cure.ensemble import STEP_MS, Run, simulate
from cure.forecast import (
    HORIZON_H,
    MEMBERS,
    NEVER,
    Course,
    Ensemble,
    Expected,
    Forecast,
    NoForecast,
    Slabwork,
)
from cure.foretold import Helps
from cure.going_on import Earned, Onward, crossing_h, onward
from cure.helps import helps_of
from cure.hours import Waits
from cure.maturity import Floats
from cure.shares import features, shares
from cure.stripped import strip_is_near, stripped_of
from shared.models.base import HOUR_MS, Ms, Operation
from shared.models.calibration import Calibration
from shared.models.decisions import Stripped
from shared.models.requirement import Rule
from shared.models.setup import MixSettings

AT_ONCE: Final = 8
"""Pours whose columns lie side by side: more do not fit into a processor's cache, fewer wait for each call."""
SHORTEST_H: Final = 6.0
"""Weather that ends sooner than this says too little for any hour (our judgement)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One pour of which the hours are wanted."""

    work: Slabwork
    earned: Earned
    plan: Mapping[Operation, Rule]
    """What each operation needs."""
    calibration: Calibration | None
    mix: MixSettings
    now_ms: Ms
    carried: Ensemble | None = None
    """As handed back by an earlier forecast of this pour; None: from the placing on."""
    notes: tuple[str, ...] = ()
    """Why it is wider than it might be."""
    horizon_h: int = HORIZON_H
    members: int = MEMBERS
    may_strip: bool = False
    """Whether its forms are still on: what taking them off would do is wanted where it is cold ahead."""
    due_ms: Mapping[Operation, Ms] = field(default_factory=dict)
    """When each operation is wanted: of one that is late it is wanted too what would help."""
    help_from_ms: Ms | None = None
    """From which hour on a cover would lie, or a heater burn; None: nobody says."""


@dataclass(frozen=True, slots=True)
class Foreseen:
    """The answer, and what to carry to the next one."""

    said: Forecast | NoForecast
    carried: Ensemble | None
    stripped: Stripped | None = None
    """What taking the forms off now would do; None: the strip is far off, or it is warm ahead."""
    helps: Helps | None = None
    """What would bring late operations on; None: nothing is late."""


def foresee(asked: Sequence[Asked]) -> list[Foreseen]:
    """Return the forecast of each pour, or why there is none; alone or with others, a pour gets the same."""
    answers: dict[int, Foreseen] = {}
    able = []
    for i, one in enumerate(asked):
        refusal = why_not(one)
        if refusal is None:
            able.append(i)
        else:
            answers[i] = Foreseen(refusal, one.carried)
    # Those that have as far to go lie side by side.
    able.sort(key=lambda i: (asked[i].horizon_h, _until_ms(asked[i]) - asked[i].work.placed_ms))
    for begin in range(0, len(able), AT_ONCE):
        part = able[begin : begin + AT_ONCE]
        answers |= zip(part, _foreseen([asked[i] for i in part]), strict=True)
    return [answers[i] for i in range(len(asked))]


def why_not(one: Asked) -> NoForecast | None:
    """Return why nothing can be foreseen of a pour; None: it can."""
    work, weather = one.work, one.work.weather
    first, last = int(weather.hours_ms[0]), int(weather.hours_ms[-1])
    if not any(p.required for p in work.points):
        reason, how = "no required sensor in the concrete", "place a sensor in it, and say so in the site file"
    elif first > max(work.placed_ms, one.work.placed_ms if one.carried is None else one.carried.through_ms):
        reason, how = f"the weather ({weather.source}) begins after the pour", "give the weather from its start on"
    elif last < one.earned.through_ms + SHORTEST_H * HOUR_MS:
        reason, how = f"the weather ({weather.source}) ends too soon", "give newer weather"
    elif one.earned.through_ms < work.placed_ms:
        reason, how = "its evidence ends before it was placed", "look at the hours of the pour"
    else:
        return None
    return NoForecast(work.pour, reason, how)


def _until_ms(one: Asked) -> Ms:
    return one.earned.through_ms


def _foreseen(asked: Sequence[Asked]) -> Iterator[Foreseen]:
    works = [one.work for one in asked]
    carried = [_start(one) for one in asked]
    kept = learned(works, carried, [_until_ms(one) for one in asked])
    steps = [_steps(one, now) for one, (_, now) in zip(asked, kept, strict=True)]
    runs = simulate(works, [now for _, now in kept], steps)
    for one, (keep, now), run in zip(asked, kept, runs, strict=True):
        said = _forecast(one, now, run)
        stripped = stripped_of(one, now, said) if strip_is_near(one, said) else None
        yield Foreseen(said, keep, stripped, helps_of(one, now, said))


def _start(one: Asked) -> Ensemble:
    """Return what is carried, where it is of this very pour as it is now; else the placing."""
    carried = one.carried
    if carried is None or carried.drawn.shape[1] != one.members or carried.through_ms > one.earned.through_ms:
        return begun(one.work, one.members)
    rows = len(begun(one.work, 2).drawn)
    return carried if len(carried.drawn) == rows else begun(one.work, one.members)


def _steps(one: Asked, now: Ensemble) -> int:
    """Return the steps to the horizon, or to the end of the weather."""
    ends = min(one.earned.through_ms + one.horizon_h * HOUR_MS, int(one.work.weather.hours_ms[-1]))
    return max(2, (ends - now.through_ms) // STEP_MS)


def _forecast(one: Asked, now: Ensemble, run: Run) -> Forecast:
    on = onward(one.work, now, run, one.earned, one.calibration, one.mix)
    waits, by = Waits(on, one.plan), features(now, run.air_error_c)
    through_ms, last_h = one.earned.through_ms, float(on.hours[-1])
    expected = {}
    for operation in one.plan:
        hours = waits.operation(operation)
        spread = shares(np.minimum(hours, last_h), by)
        at_ms = np.sort(np.where(np.isfinite(hours), through_ms + hours * HOUR_MS, NEVER))
        expected[operation] = Expected(operation, at_ms, waits.governs(operation), spread)
    return Forecast(
        pour=one.work.pour,
        issued_ms=one.now_ms,
        through_ms=through_ms,
        horizon_ms=through_ms + round(last_h * HOUR_MS),
        expected=expected,
        freezing=freezing_chance(on),
        times_ms=through_ms + np.round(on.hours * HOUR_MS).astype(np.int64),
        coldest_c=course(on.coldest_c),
        governing_c=course(on.governing_c),
        bound_mpa=None if on.bound_mpa is None else _on_steps(on, course(on.bound_mpa)),
        notes=_notes(one, last_h),
    )


def _notes(one: Asked, last_h: float) -> tuple[str, ...]:
    short = () if last_h >= one.horizon_h - 1.0 else (f"the weather ends after {last_h:.0f} h",)
    return (*one.notes, *one.work.weather.doubts, *short)


def course(members: Floats) -> Course:
    """Return where members lie at each time, shape (times, members) -> (times,)."""
    low, middle, high = np.quantile(members, (0.1, 0.5, 0.9), axis=1)
    return Course(low, middle, high)


def _on_steps(on: Onward, of: Course) -> Course:
    return Course(*(np.interp(on.hours, on.bound_hours, values) for values in (of.low, of.middle, of.high)))


def freezing_chance(on: Onward) -> float:
    """Return the chance that any point falls below 0 degC before the bound is 3.5 MPa; without a bound, ever."""
    safe_h = np.full(on.coldest_c.shape[1], np.inf)
    if on.bound_mpa is not None:
        safe_h = crossing_h(on.bound_hours, on.bound_mpa, FREEZE_SAFE_MPA)
    young = on.hours[:, None] < safe_h
    # Not known is not warm.
    return float(np.mean(np.any(young & ~(on.coldest_c >= 0.0), axis=0)))
