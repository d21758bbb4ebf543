"""The case that a person or software asks of before a pour, worked out. It changes and releases nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from cure.dashboard.asked import Parts
from cure.forecast import HORIZON_H, Weather
from cure.plan_case import Heat, Told, judged_by, rule_of, work_of
from cure.plan_weather import days_alike
from cure.planned import foreseen
from cure.planner import Protection, Question, Tried, tried
from shared.errors import PlanError
from shared.models.base import HOUR_MS, STRIP, BayId, Ms, Operation
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
FIRST: Final[Mapping[str, str]] = {
    "pour_h": "2",
    "placing_c": "18",
    "cement": "I",
    "binder_kg": "",
    "water_binder": "0.5",
    "low_c": "",
    "high_c": "",
    "wind_m_s": "3",
    "cover_r": "0",
    "operation": STRIP,
}
"""What stands in the form before anybody has asked, in SI units, and holds for software that does not say it.

Left empty are the mix's and the site's own.
"""
NO_WEATHER: Final = "the site holds no weather for these hours: say how cold and how warm the days will be"


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


@dataclass(frozen=True, slots=True)
class Answered:
    """A case with its hours."""

    tried: Tried
    rule: AllRule
    """The requirement of its operation."""
    own_weather: str
    """Whose weather the site's own is; "": the days are those that were told, all alike."""


def answered(parts: Parts, site: SiteFile, wish: Wish, now_ms: Ms) -> Answered:
    """Return a case with its hours: in the days that it tells, else in the weather that the site holds.

    Raises:
        PlanError: nothing can be foreseen of it, or the site holds no weather for its hours.
        StoreError: the site's weather cannot be read.
    """
    weather, own = _weather(parts, site.site.zone, wish, now_ms)
    calibrations = _counted_now(parts.calibrations, parts.board.mixes())
    one, rule = _worked_out(site, calibrations, parts.board.edits(wish.bay), wish, weather)
    return Answered(one, rule, weather.source if own else "")


def _weather(parts: Parts, zone: str, wish: Wish, now_ms: Ms) -> tuple[Weather, bool]:
    """Return the weather of a case, and whether it is the site's own."""
    low_c, high_c, wind_m_s = (wish.numbers[name] for name in ("low_c", "high_c", "wind_m_s"))
    if low_c is None and high_c is None:
        held = parts.beside.weather(wish.hours)
        if held is None:
            raise PlanError(NO_WEATHER)
        return held, True
    days = [math.nan if value is None else value for value in (low_c, high_c, wind_m_s)]
    return days_alike(days[0], days[1], days[2], zone, wish.hours, min(now_ms, wish.start_ms)), False


def _counted_now(accepted: Mapping[str, Calibration], mixes: Sequence[MixRow]) -> dict[str, Calibration]:
    """Return the calibration of each mix that counts now: by the site book, else by the site file."""
    return {**accepted, **{str(row.mix.id): row.calibration for row in mixes if row.in_force}}


def _worked_out(
    site: SiteFile,
    calibrations: Mapping[str, Calibration],
    edits: Sequence[RequirementEdit],
    wish: Wish,
    weather: Weather,
) -> tuple[Tried, AllRule]:
    """Return a case with its hours in a weather, and the requirement of its operation."""
    of = {name: 0.0 if value is None else value for name, value in wish.numbers.items()}
    setup, given = Setup(site, calibrations, ""), wish.numbers
    heat = None if given["binder_kg"] is None else Heat(wish.cement, of["binder_kg"], of["water_binder"])
    told = Told(wish.bay, wish.start_ms, of["pour_h"], of["placing_c"], given["thickness_mm"], None, heat)
    judged = judged_by(setup, told, edits)
    rule = rule_of(judged, wish.operation)
    by = Protection(of["cover_r"], COVER_ON_H, given["cover_for_h"], given["below_c"])
    question = Question(judged, wish.operation, wish.wanted_ms)
    return tried([(work_of(setup, told, weather), by)], question, partial(foreseen, members=MEMBERS))[0], rule
