"""The planner for other software: the hours of a pour that has not happened yet, as the page of plans tells them."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Annotated, Any

from fastapi import Query
from pydantic import AwareDatetime, BaseModel

from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_reads import in_ms
from cure.dashboard.planning import FIRST, LIMITS, Wish, answered
from cure.dashboard.rules import API
from cure.hydration import CLASSES
from cure.plan_report import EXPECTED
from cure.planner import Tried
from shared.errors import PlanError
from shared.models.base import DAY_MS, STRIP, BayId, Operation, OperationName

FARTHEST_MS = 366 * DAY_MS
_FIRST = ("pour_h", "placing_c", "cover_r", "water_binder", "wind_m_s")
POUR_H, PLACING_C, COVER_R, WATER_BINDER, WIND_M_S = (float(FIRST[name]) for name in _FIRST)
BESIDE = (
    *(("cement", "binder_kg"), ("water_binder", "binder_kg")),
    *(("low_c", "high_c"), ("high_c", "low_c"), ("wind_m_s", "low_c")),
)
"""What counts only where another is given too."""
# Without `from __future__ import annotations`: FastAPI reads the types that are made here, per route.


def _number(name: str, said: str) -> Any:
    least, most = LIMITS[name]
    return Query(ge=least, le=most, description=said)


PourH = Annotated[float, _number("pour_h", "hours that the pour takes")]
PlacingC = Annotated[float, _number("placing_c", "temperature of the concrete as placed")]
ThicknessMm = Annotated[float | None, _number("thickness_mm", "another than the bay's")]
BinderKg = Annotated[
    float | None,
    _number("binder_kg", "cement and what replaces it, in a cubic metre; default: binder, cement and water of the mix"),
]
WaterBinder = Annotated[float | None, _number("water_binder", "water by binder, by mass; beside binder_kg (0.5)")]
LowC = Annotated[float | None, _number("low_c", "coldest air of each day; default: the weather that the site holds")]
HighC = Annotated[float | None, _number("high_c", "warmest air of each day, beside low_c")]
WindMS = Annotated[float | None, _number("wind_m_s", "wind at the slab, beside low_c and high_c (3)")]
CoverR = Annotated[float, _number("cover_r", "of a cover laid 2 h after the end, m2K/W; 0: none")]
CoverForH = Annotated[float | None, _number("cover_for_h", "default: until further notice")]
BelowC = Annotated[float | None, _number("below_c", "to which the space below is heated; default: it is not")]
Cement = Annotated[
    str | None, Query(pattern=f"^({'|'.join(CLASSES)})$", description="type of the cement, beside binder_kg (I)")
]
Bay = Annotated[m.BayName, Query(description="bay of the site file")]
Start = Annotated[AwareDatetime, Query(description="first concrete")]
Wanted = Annotated[AwareDatetime | None, Query(description="by when the operation is wanted")]


class HoursAnswer(BaseModel):
    """Of one operation. EXPECTED, NOT RELEASED; null: not within what is foreseen."""

    p10: datetime | None
    p50: datetime | None
    p90: datetime | None
    waits_for: dict[str, float]
    """Share of cases in which each comes last: clock hours, cold hours, strength."""
    spread: dict[str, float]
    """Share of the spread that each explains: weather, heat model, mix."""


class PlanAnswer(BaseModel):
    """A pour that has not happened yet."""

    said: str
    bay: str
    start: datetime
    thickness_mm: float
    placing_c: float
    operation: str
    wanted: datetime | None
    chance: float | None
    """That it is met by the wanted hour."""
    frost: float
    """Chance that a point freezes before 3.5 MPa."""
    horizon: datetime
    """Nothing is said of later hours."""
    expected: dict[str, HoursAnswer]
    notes: list[str]
    weather: str
    caution: str


def plans(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the planner's route."""

    def plan(
        caller: CallerIn,
        bay: Bay,
        start: Start,
        binder_kg: BinderKg = None,
        low_c: LowC = None,
        high_c: HighC = None,
        cement: Cement = None,
        water_binder: WaterBinder = None,
        placing_c: PlacingC = PLACING_C,
        pour_h: PourH = POUR_H,
        thickness_mm: ThicknessMm = None,
        wind_m_s: WindMS = None,
        cover_r: CoverR = COVER_R,
        cover_for_h: CoverForH = None,
        below_c: BelowC = None,
        operation: OperationName = STRIP,
        wanted: Wanted = None,
    ) -> PlanAnswer:
        """Expected hours of a pour in the site's weather, or in days all alike. It changes and releases nothing."""
        numbers: dict[str, float | None] = {
            "pour_h": pour_h,
            "placing_c": placing_c,
            "thickness_mm": thickness_mm,
            "binder_kg": binder_kg,
            "water_binder": water_binder,
            "low_c": low_c,
            "high_c": high_c,
            "wind_m_s": wind_m_s,
            "cover_r": cover_r,
            "cover_for_h": cover_for_h,
            "below_c": below_c,
        }
        _nothing_alone({**numbers, "cement": cement})
        numbers["water_binder"] = WATER_BINDER if water_binder is None else water_binder
        numbers["wind_m_s"] = WIND_M_S if wind_m_s is None else wind_m_s
        wanted_ms = None if wanted is None else in_ms(wanted)
        wish = Wish(BayId(bay), in_ms(start), Operation(operation), wanted_ms, cement or FIRST["cement"], numbers)
        if abs(wish.start_ms - caller.now) > FARTHEST_MS:
            raise ProblemError(422, "start: a plan is of a pour within a year")
        try:
            one = answered(api.parts, caller.site, wish, caller.now).tried
        except PlanError as error:
            raise ProblemError(422, caller.reader.known(str(error))) from error
        return _answered(one, caller, api.caution)

    return {("GET", f"{API}/plan"): plan}


def _nothing_alone(given: Mapping[str, float | str | None]) -> None:
    """Refuse what would not be reckoned with: nobody takes the answer for that of another cement, or of another air."""
    alone = [f"{name}: {with_it} too, or neither" for name, with_it in BESIDE if _alone(given, name, with_it)]
    if alone:
        raise ProblemError(422, "; ".join(alone))


def _alone(given: Mapping[str, float | str | None], name: str, with_it: str) -> bool:
    return given[name] is not None and given[with_it] is None


def _answered(one: Tried, caller: CallerIn, caution: str) -> PlanAnswer:
    site = caller.site
    expected = {
        operation: HoursAnswer(
            p10=views.maybe_hour(of.at(0.1), site),
            p50=views.maybe_hour(of.at(0.5), site),
            p90=views.maybe_hour(of.at(0.9), site),
            waits_for={str(g): share for g, share in of.governs.items()},
            spread={str(s): share for s, share in of.spread.items()},
        )
        for operation, of in one.forecast.expected.items()
    }
    return PlanAnswer(
        said=EXPECTED,
        bay=one.work.pour,
        start=views.hour(one.start_ms, site),
        thickness_mm=one.work.thickness_mm,
        placing_c=one.work.placing_c,
        operation=one.operation,
        wanted=views.maybe_hour(one.wanted_ms, site),
        chance=one.chance,
        frost=one.forecast.freezing,
        horizon=views.hour(one.forecast.horizon_ms, site),
        expected=expected,
        notes=list(one.forecast.notes),
        weather=one.work.weather.source,
        caution=caution,
    )
