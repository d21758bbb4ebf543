"""Before the pour: what its hours would be, for one case that a person asks of. It changes nothing."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final, cast

from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.chart_words import WORDS
from cure.dashboard.ink import SIZES
from cure.dashboard.planning import answered
from cure.dashboard.rendering import page
from cure.dashboard.svgchart import both
from cure.hydration import CLASSES
from cure.plan_answer import Planned
from cure.plan_chart import plan_chart
from cure.plan_limits import OPERATION, RANGES, USUAL
from cure.plan_request import Request, faults
from cure.planner import Tried
from shared.errors import PlanError
from shared.models.acts import instant
from shared.models.base import LOAD, STRIP, WALK, Ms
from shared.shifts import day_of, hour_of
from shared.units import US_ENTERED, Entered

OPERATIONS: Final = (STRIP, WALK, LOAD)
NUMBERS: Final = (
    *("pour_h", "placing_c", "thickness_mm", "binder_kg", "water_binder", "fly_ash", "slag"),
    *("low_c", "high_c", "wind_m_s", "cover_r", "cover_on_h", "cover_for_h", "below_c", "below_for_h"),
)
"""In the order of the form."""
UNITS: Final[Mapping[str, str]] = {
    "placing_c": "°C",
    "thickness_mm": "mm",
    "binder_kg": "kg/m³",
    "low_c": "°C",
    "high_c": "°C",
    "wind_m_s": "m/s",
    "cover_r": "m²K/W",
    "below_c": "°C",
}
"""Of each number that has another one for whoever reads US customary units."""
FIRST: Final = ("pour_h", "placing_c", "water_binder", "wind_m_s", "cover_r")
"""Numbers that stand in the form before anybody has asked, as usual; all others may be left out."""
CHANCES: Final = (0.1, 0.5, 0.9)


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {("GET", "/plan"): lambda asked: _plan(parts, asked)}


class _Wrong(Exception):  # noqa: N818 - holds what is wrong with a form, and never leaves this module
    def __init__(self, faults: list[str]) -> None:
        super().__init__(*faults)
        self.faults = faults


@dataclass(frozen=True, slots=True)
class _Form:
    """The fields as numbers and hours; every fault of them is told at once."""

    asked: Asked
    faults: list[str]

    def number(self, name: str) -> float:
        given, (least, most) = self.asked.query.get(name, "").strip().replace(",", "."), RANGES[name]
        us = _us(self.asked, name)
        if not given and name not in FIRST:
            return math.nan
        try:
            value = float(given) if us is None else us.to_si(float(given))
        except ValueError:
            value = math.nan
        # Written so that NaN is a fault.
        if not least <= value <= most:
            ends = (least, most) if us is None else (us.from_si(least), us.from_si(most))
            said = {"what": _label(self.asked, name), "least": f"{ends[0]:.4g}", "most": f"{ends[1]:.4g}"}
            self.faults.append(self.asked.reader.say("plan-number", **said))
        return value

    def hour(self, name: str) -> Ms | None:
        given = self.asked.query.get(name, "").strip()
        day, _, time = given.partition("T")
        try:
            return hour_of(date.fromisoformat(day), time, self.asked.site.site.zone) if given else None
        except ValueError:
            self.faults.append(self.asked.reader.say("plan-hour", what=self.asked.reader.say(f"plan-{name}")))
            return None

    def one_of(self, name: str, known: tuple[str, ...]) -> str:
        given = self.asked.query.get(name, "")
        if given not in known:
            self.faults.append(self.asked.reader.say("plan-choice", what=self.asked.reader.say(f"plan-{name}")))
        return given


def _us(asked: Asked, name: str) -> Entered | None:
    """Return how whoever reads enters a number; None: as it is stored."""
    return US_ENTERED[UNITS[name]] if asked.reader.first == "US" and name in UNITS else None


def _label(asked: Asked, name: str) -> str:
    us = _us(asked, name)
    return asked.reader.say(f"plan-{name.replace('_', '-')}", unit=UNITS.get(name, "") if us is None else us.name)


def _first(asked: Asked, name: str) -> str:
    """Return what stands in a field before anybody has asked."""
    if name not in FIRST:
        return {"cement": "I", "operation": str(OPERATION)}.get(name, "")
    us = _us(asked, name)
    return f"{USUAL[name]:g}" if us is None or not USUAL[name] else f"{us.from_si(USUAL[name]):.0f}"


def _request(asked: Asked) -> Request:
    """Return what is asked. Raises `_Wrong` with every fault of the form."""
    form = _Form(asked, [])
    of: dict[str, Any] = {name: form.number(name) for name in NUMBERS}
    of["bay"] = form.one_of("bay", tuple(b.id for b in asked.site.bay))
    of["cement"] = form.one_of("cement", tuple(CLASSES))
    of["operation"] = form.one_of("operation", OPERATIONS)
    of["mix"] = form.one_of("mix", ("", *(mix.id for mix in asked.site.mix))) or None
    start_ms, wanted_ms = form.hour("start"), form.hour("wanted")
    if not asked.query.get("start", "").strip():
        form.faults.append(asked.reader.say("plan-hour", what=asked.reader.say("plan-start")))
    low_c, high_c = of["low_c"], of["high_c"]
    # Both or none; written so that one alone is a fault.
    if not (low_c <= high_c or (math.isnan(low_c) and math.isnan(high_c))):
        form.faults.append(asked.reader.say("plan-days"))
    if form.faults or start_ms is None:
        raise _Wrong(form.faults)
    # What the form always says counts only where it is asked for: without a binder the heat is the mix's.
    without = {"cement", "water_binder"} if math.isnan(of["binder_kg"]) else set()
    without |= {"wind_m_s"} if math.isnan(low_c) else set()
    hours = {"start": instant(start_ms), "wanted": None if wanted_ms is None else instant(wanted_ms)}
    told = {name: value for name, value in of.items() if name not in without and not _empty(value)}
    return Request(**told, **hours)


def _empty(value: float | str | None) -> bool:
    return isinstance(value, float) and math.isnan(value)


def _case(parts: Parts, asked: Asked) -> tuple[Planned, Tried, Markup]:
    """Return what is asked of with its answer, and its chart. Raises `_Wrong`, `PlanError`."""
    request, reader = _request(asked), asked.reader
    idle = [
        reader.say("plan-idle", what=_label(asked, fault.name), other=_label(asked, fault.others[0]))
        for fault in faults(request)
    ]
    if idle:
        raise _Wrong(idle)
    found = answered(parts, asked.site, request, asked.now)
    # The form asks of one case alone.
    one = cast("Tried", found.what)
    chart = plan_chart(one, found.rule, reader.zone, first=reader.first, words=WORDS[reader.language])
    return found, one, Markup(both(chart, SIZES))  # noqa: S704 - SVG of ours, escaped already


def _rows(asked: Asked, one: Tried) -> list[tuple[bool, str, list[str]]]:
    """Return each operation with its hours; none is a sum."""
    later = asked.reader.say("plan-later")
    found = []
    for operation, expected in one.forecast.expected.items():
        at = [expected.at(chance) for chance in CHANCES]
        hours = [later if ms is None else asked.reader.whole_hour(ms) for ms in at]
        found.append((False, asked.reader.operation(operation), hours))
    return found


def _spread(asked: Asked, one: Tried) -> list[str]:
    """Return of each operation how much of its spread each source explains."""
    found = []
    for operation, expected in one.forecast.expected.items():
        shares = {source.name.lower(): _percent(share) for source, share in expected.spread.items()}
        if any(expected.spread.values()):
            found.append(asked.reader.say("plan-spread", operation=asked.reader.operation(operation), **shares))
    return found


def _percent(chance: float | None) -> str:
    return "" if chance is None else f"{100.0 * chance:.0f}"


def _plan(parts: Parts, asked: Asked) -> Response:
    answer: dict[str, Any] = {
        "rows": [],
        "chart": "",
        "chance": "",
        "frost": "",
        "wanted": "",
        "source": "",
        "notes": [],
        "spread": [],
    }
    wrong: list[str] = []
    if "bay" in asked.query:
        try:
            found, one, chart = _case(parts, asked)
        except _Wrong as error:
            wrong = error.faults
        except PlanError as error:
            wrong = [asked.reader.known(str(error))]
        else:
            source = "" if found.alike else found.weather.source
            wanted = "" if one.wanted_ms is None else asked.reader.whole_hour(one.wanted_ms)
            answer = {"rows": _rows(asked, one), "chart": chart, "chance": _percent(one.chance), "wanted": wanted}
            notes = [asked.reader.known(note) for note in one.forecast.notes] if source else []
            answer |= {"frost": _percent(one.forecast.freezing), "source": source, "notes": notes}
            answer |= {"spread": _spread(asked, one)}
    tomorrow = day_of(asked.now, asked.site.site.zone) + timedelta(days=1)
    given = {
        name: asked.query.get(name, _first(asked, name)) for name in (*NUMBERS, "cement", "operation", "wanted", "mix")
    }
    given |= {"bay": asked.query.get("bay", ""), "start": asked.query.get("start", f"{tomorrow}T08:00")}
    return page(
        asked,
        "plan.html",
        status=422 if wrong else 200,
        given=given,
        wrong=wrong,
        cements=list(CLASSES),
        operations=[(operation, asked.reader.operation(operation)) for operation in OPERATIONS],
        numbers=[(name, _label(asked, name), name not in FIRST) for name in NUMBERS],
        **answer,
    )
