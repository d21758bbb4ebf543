"""The hours of operations of a pour that is not placed yet, by the members of its ensemble. Pure.

It is the forecast of a pour of which there is no evidence yet: what its sensors would read is counted as the gate will
count it. Nothing here releases anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cure.forecast import HORIZON_H, Forecast, NoForecast, Slabwork
from cure.foresee import Asked, foresee
from cure.going_on import Earned
from shared.errors import PlanError
from shared.models import requirement as r
from shared.models.base import Operation
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings

MEMBERS: Final = 100
"""Of a plan: a chance is told to a few percent (our judgement)."""
NOT_TOLD: Final = (r.TestsRule, r.SurfaceNearAirRule, r.DropRule)
"""What no heat model tells beforehand: an operation that needs one has no hour."""


@dataclass(frozen=True, slots=True)
class Judged:
    """By what a pour will be judged."""

    requirements: Mapping[Operation, r.AllRule]
    """In the order in which they are told."""
    calibration: Calibration
    mix: MixSettings
    consent: bool = False
    """Whether the engineer's written consent is on file: without it a way that needs it is no way."""
    lowered_c: float = 0.0
    """Taken off every reading before it counts: no sensor at the edge."""


def untold(rule: r.Rule) -> bool:
    """Return whether a requirement needs what no heat model tells."""
    if isinstance(rule, r.AllRule):
        return any(map(untold, rule.all))
    if isinstance(rule, r.AnyRule):
        return all(map(untold, rule.any))
    return isinstance(rule, NOT_TOLD)


def _no_way(rule: r.Rule, consent: bool) -> Iterator[r.Rule]:
    """Yield the rules within that time does not meet, and nobody."""
    if isinstance(rule, r.AllRule | r.AnyRule):
        for part in rule.all if isinstance(rule, r.AllRule) else rule.any:
            yield from _no_way(part, consent)
    elif isinstance(rule, NOT_TOLD) or (isinstance(rule, r.ConsentRule) and not consent):
        yield rule


def _asked(work: Slabwork, by: Judged, hours: int, members: int) -> Asked:
    plan: dict[Operation, r.Rule] = {op: rule for op, rule in by.requirements.items() if not untold(rule)}
    unmet = tuple(rule for of in plan.values() for rule in _no_way(of, by.consent))
    earned = Earned(work.end_ms, lowered_c=by.lowered_c, unmet=unmet)
    issued_ms = work.weather.issued_ms
    return Asked(work, earned, plan, by.calibration, by.mix, issued_ms, horizon_h=hours, members=members)


def foreseen(
    works: Sequence[Slabwork], judged: Sequence[Judged], *, hours: int = HORIZON_H, members: int = MEMBERS
) -> list[Forecast]:
    """Return what is foreseen of pours from their placing on, each beside the others.

    What people bring is taken to be in hand: documents, loads on file. An operation whose requirement needs what no
    heat model tells is left out.

    Args:
        works: the pours.
        judged: by what each will be judged.
        hours: from the end of the pour on; what comes later, or without weather, counts as not met.
        members: of each ensemble.

    Raises:
        PlanError: nothing can be said of a pour.
    """
    found = foresee([_asked(*of, hours, members) for of in zip(works, judged, strict=True)])
    told = []
    for one in found:
        if isinstance(one.said, NoForecast):
            raise PlanError(f"{one.said.pour}: {one.said.reason}: {one.said.how}")
        told.append(one.said)
    return told
