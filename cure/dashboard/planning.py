"""The case that a person or software asks of before a pour, worked out. It changes and releases nothing. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from cure.forecast import HORIZON_H, Weather
from cure.plan_case import Heat, Told, judged_by, rule_of, work_of
from cure.plan_weather import days_alike
from cure.planned import foreseen
from cure.planner import Protection, Question, Tried, tried
from shared.models.base import HOUR_MS, BayId, Ms, Operation
from shared.models.calibration import Calibration
from shared.models.decisions import RequirementEdit
from shared.models.requirement import AllRule
from shared.models.setup import Setup, SiteFile
from shared.ports import MixRow

MEMBERS: Final = 100
COVER_ON_H: Final = 2.0
LIMITS: Final[Mapping[str, tuple[float, float]]] = {
    "pour_h": (0.25, 24.0),
    "placing_c": (0.0, 40.0),
    "thickness_mm": (30.0, 1500.0),
    "binder_kg": (100.0, 800.0),
    "water_binder": (0.2, 1.0),
    "low_c": (-50.0, 55.0),
    "high_c": (-50.0, 55.0),
    "wind_m_s": (0.0, 40.0),
    "cover_r": (0.0, 10.0),
    "cover_for_h": (0.5, 500.0),
    "below_c": (0.0, 40.0),
}
"""Of each number, between which it lies."""


@dataclass(frozen=True, slots=True)
class Wish:
    """One case."""

    bay: BayId
    start_ms: Ms
    """First concrete."""
    operation: Operation
    wanted_ms: Ms | None
    cement: str
    numbers: Mapping[str, float | None]
    """As of `LIMITS`; None: the bay's thickness, the mix's binder (and with it its cement and its water),
    weather that is not days alike, a cover until further notice, a space below that is not heated."""

    @property
    def hours(self) -> tuple[Ms, Ms]:
        """Return the hours of which the weather is wanted."""
        return self.start_ms, self.start_ms + (HORIZON_H + 25) * HOUR_MS


def counted_now(accepted: Mapping[str, Calibration], mixes: Sequence[MixRow]) -> dict[str, Calibration]:
    """Return the calibration of each mix that counts now: by the site book, else by the site file."""
    return {**accepted, **{str(row.mix.id): row.calibration for row in mixes if row.in_force}}


def alike(wish: Wish, zone: str, now_ms: Ms) -> Weather:
    """Return the weather of the days that a case tells, all alike.

    Raises:
        PlanError: it tells none, or such as no days are.
    """
    days = [wish.numbers[name] for name in ("low_c", "high_c", "wind_m_s")]
    low_c, high_c, wind_m_s = (math.nan if value is None else value for value in days)
    return days_alike(low_c, high_c, wind_m_s, zone, wish.hours, min(now_ms, wish.start_ms))


def worked_out(
    site: SiteFile,
    calibrations: Mapping[str, Calibration],
    edits: Sequence[RequirementEdit],
    wish: Wish,
    weather: Weather,
) -> tuple[Tried, AllRule]:
    """Return a case with its hours in a weather, and the requirement of its operation.

    Raises:
        PlanError: nothing can be foreseen of it.
    """
    of = {name: 0.0 if value is None else value for name, value in wish.numbers.items()}
    setup, given = Setup(site, calibrations, ""), wish.numbers
    heat = None if given["binder_kg"] is None else Heat(wish.cement, of["binder_kg"], of["water_binder"])
    told = Told(wish.bay, wish.start_ms, of["pour_h"], of["placing_c"], given["thickness_mm"], None, heat)
    judged = judged_by(setup, told, edits)
    rule = rule_of(judged, wish.operation)
    by = Protection(of["cover_r"], COVER_ON_H, given["cover_for_h"], given["below_c"])
    question = Question(judged, wish.operation, wish.wanted_ms)
    return tried([(work_of(setup, told, weather), by)], question, partial(foreseen, members=MEMBERS))[0], rule
