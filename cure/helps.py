"""What would bring late operations on: a cover, heat below, or both, reckoned with the members of the forecast. Pure.

It is told beside a delay, and releases nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from cure.clockstart import clock_start
from cure.ensemble import STEP_MS, simulate, spans_at
from cure.forecast import COVER_M2_K_PER_W, FOR_EVER_MS, Ensemble, Slabwork, Span
from cure.foretold import Helps
from cure.going_on import onward
from cure.hours import Waits
from cure.maturity import Floats
from cure.requirements import clock_rule
from cure.slab import State
from shared.models.base import DAY_MS, HOUR_MS, Ms, Operation
from shared.models.requirement import Rule
from shared.ports import PourCase
from shared.shifts import running_or_next

if TYPE_CHECKING:
    from cure.forecast import Forecast
    from cure.foresee import Asked

COVER, HEAT, BOTH = "cover", "heat", "cover and heat"
HEATED_C: Final = 10.0
"""To which a space below is heated, where nobody says (our judgement)."""
FEWER: Final = 40
"""Members that are tried: enough for an even chance and a shift, in a fraction of the time."""
AFTER_MS: Final = DAY_MS
"""How long after the hour that is wanted, and from now on, it is looked for: what comes later saves nothing."""


def due_ms(case: PourCase, plan: Mapping[Operation, Rule]) -> dict[Operation, Ms]:
    """Return when each operation is wanted, or comes by the plan's own clock hours where that is later."""
    end_ms, wanted = clock_start(case), case.state.memory.get("wanted", {})
    found = dict[Operation, Ms]()
    for operation, rule in plan.items():
        clock = clock_rule(rule)
        hours = [int(wanted[operation])] if operation in wanted else []
        if clock is not None and end_ms is not None:
            hours.append(end_ms + round(clock.counted_h * HOUR_MS))
        if hours:
            found[operation] = max(hours)
    return found


def by_ms(case: PourCase, now_ms: Ms) -> Ms:
    """Return until when somebody is there to lay a cover or to light a heater: the end of a shift."""
    site = case.site.site
    return running_or_next(now_ms, site.shift, site.zone).ends_ms


def _ways(work: Slabwork, from_ms: Ms) -> Iterator[tuple[str, Slabwork]]:
    at = np.array([float(from_ms)])
    covers = (*work.covers, Span(from_ms, FOR_EVER_MS, COVER_M2_K_PER_W))
    heated = (*work.heated, Span(from_ms, FOR_EVER_MS, HEATED_C))
    bare, cold = (bool(np.isnan(spans_at(spans, at))[0]) for spans in (work.covers, work.heated))
    if bare:
        yield COVER, replace(work, covers=covers)
    if cold:
        yield HEAT, replace(work, heated=heated)
    if bare and cold:
        yield BOTH, replace(work, covers=covers, heated=heated)


def helps_of(one: Asked, now: Ensemble, said: Forecast) -> Helps | None:
    """Return by when late operations are met with an even chance with each thing that can still be done, the least
    first; None: nothing is late, or nobody says until when it can be done.

    Args:
        one: what was asked.
        now: its members, with what was read.
        said: the forecast of the pour as it is.
    """
    late = [
        op for op, due in one.due_ms.items() if op in said.expected and not _in_time(said.expected[op].at(0.5), due)
    ]
    if not late or one.help_from_ms is None:
        return None
    ways = dict(_ways(one.work, one.help_from_ms))
    few, from_ms = _fewer(now), one.earned.through_ms
    ends_ms = min(said.horizon_ms, max(from_ms, *(one.due_ms[op] for op in late)) + AFTER_MS)
    steps = max(2, (ends_ms - few.through_ms) // STEP_MS)
    works = list(ways.values())
    runs = simulate(works, [few] * len(works), [steps] * len(works)) if works else []
    found = dict[str, Mapping[Operation, Ms | None]]()
    for name, work, run in zip(ways, works, runs, strict=True):
        waits = Waits(onward(work, few, run, one.earned, one.calibration, one.mix), one.plan)
        found[name] = {op: _even_ms(np.sort(waits.operation(op)), from_ms) for op in late}
    return Helps(one.help_from_ms, found, COVER_M2_K_PER_W, HEATED_C)


def _fewer(now: Ensemble) -> Ensemble:
    """Return some of the members, evenly picked."""
    each = slice(None, None, max(1, now.drawn.shape[1] // FEWER))
    state = State(now.state.temperature_c[:, each], now.state.age_h[:, each])
    return Ensemble(now.through_ms, now.drawn[:, each], state)


def _in_time(at_ms: Ms | None, due: Ms) -> bool:
    return at_ms is not None and at_ms <= due


def _even_ms(hours: Floats, from_ms: Ms) -> Ms | None:
    middle = float(hours[-(-len(hours) // 2) - 1])
    return from_ms + round(middle * HOUR_MS) if np.isfinite(middle) else None
