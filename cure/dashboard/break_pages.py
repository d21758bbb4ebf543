"""What the laboratory is to break and when, results entered, and what they make of the calibrations.

By the same functions as `slabhour break-orders`, `test-result` and `verification`. An order releases nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
from starlette.responses import Response

from cure.break_hours import CURING_C, NEVER_OPEN, OFF_C, STANDS_STILL, TOO_OLD, BreakHours
from cure.break_orders import NO_RECORD, Order, PourOrders, break_orders
from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.mix_pages import METHODS, result_of, stands_of, verifications_of
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import page
from cure.dashboard.rules import may
from cure.strength import CURVES
from cure.verification import percent
from shared.errors import ActRefusedError
from shared.models.acts import StrengthTest, ms
from shared.models.setup import LaboratorySettings
from shared.ports import MixRow

KIND: Final = "test_result"
MOST: Final = 40
"""Results shown, the newest."""
WHY: Final[Mapping[str, str]] = {
    STANDS_STILL: "breaks-stands-still",
    TOO_OLD: "breaks-too-old",
    NEVER_OPEN: "breaks-never-open",
    NO_RECORD: "breaks-no-record",
}
"""Why there is no hour, and its words."""
Line = tuple[bool, str, list[str]]


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/breaks"): lambda asked: _page(parts, asked),
        ("POST", "/breaks"): lambda asked: _enter(parts, asked),
    }


def _page(parts: Parts, asked: Asked, wrong: Sequence[str] = ()) -> Response:
    laboratory, reader = asked.site.laboratory, asked.reader
    orders = break_orders(parts.board, laboratory, asked.now)
    standing = verifications_of(parts, asked)
    rows = [row for row, _ in standing]
    pours = sorted({p.pour.id: p.pour for row in rows for p in row.pours}.values(), key=lambda p: -p.start_ms)
    return page(
        asked,
        "breaks.html",
        status=422 if wrong else 200,
        wrong=list(wrong),
        laboratory=_laboratory(laboratory, reader),
        heads=[reader.say(f"breaks-{key}", curing=_celsius(CURING_C, reader)) for key in ("for", "lab", "beside")],
        orders=[(_named(pour, reader), _lines(pour, asked), _notes(pour, reader)) for pour in orders],
        off=_apart(OFF_C, reader),
        results=[_result(act, rows, asked) for act in reversed(_results(parts)[-MOST:])],
        standing=[(v.mix, stands_of(v, asked)) for _, v in standing],
        pours=[p.id for p in pours],
        methods=METHODS,
        action="/breaks",
        given=lambda name, usual="": asked.one(name) or usual,
        may_break=may("POST", "/breaks", asked.visitor.comer),
        hour=reader.whole_hour(asked.now),
    )


def _enter(parts: Parts, asked: Asked) -> Response:
    try:
        parts.apply(result_of(asked))
    except ActRefusedError as error:
        return _page(parts, asked, [asked.reader.known(str(error))])
    return see_other("/breaks")


def _celsius(value: float, reader: Reader) -> str:
    return reader.number(value, "degC")


def _apart(value: float, reader: Reader) -> str:
    return reader.number(value, "degC apart")


def _laboratory(laboratory: LaboratorySettings | None, reader: Reader) -> str:
    if laboratory is None:
        return reader.say("breaks-any-hour")
    week = dict(zip(("mon", "tue", "wed", "thu", "fri", "sat", "sun"), reader.say("days").split(), strict=True))
    return reader.say("breaks-open", hours=laboratory.open, days=", ".join(week[day] for day in laboratory.days))


def _named(pour: PourOrders, reader: Reader) -> str:
    mix = reader.say("mix", mix=pour.mix)
    return f"{reader.say('bay')} {pour.bay}, {pour.pour}, {mix}"


def _notes(pour: PourOrders, reader: Reader) -> list[str]:
    verify = [] if pour.verify is None else [reader.say("breaks-verify", why=reader.known(pour.verify))]
    return [*verify, *map(reader.known, pour.notes)]


def _lines(pour: PourOrders, asked: Asked) -> list[Line]:
    return [_line(order, asked) for order in pour.orders]


def _line(order: Order, asked: Asked) -> Line:
    reader = asked.reader
    name = reader.say(
        "breaks-order",
        count=order.cylinders,
        age=reader.number(order.age_h, "h", limit=True),
        curve=reader.number(order.curve_mpa, "MPa"),
    )
    wanted = {
        reader.say(
            "breaks-bound" if w.by_bound else "breaks-tests",
            what=reader.operation(w.what),
            mpa=reader.number(w.mpa, "MPa", limit=True),
        )
        for w in order.wanted
    }
    return False, name, ["; ".join(sorted(wanted)), *(hours(h, asked) for h in (order.laboratory, order.beside))]


def hours(found: BreakHours, asked: Asked) -> str:
    """Return when a target is expected, and when to break for it."""
    reader = asked.reader

    def hour(at_ms: int) -> str:
        return reader.hour(at_ms, asked.now)

    said = [reader.say("breaks-no-hour")]
    if found.reached_ms is not None:
        said = [reader.say("breaks-reached", hour=hour(found.reached_ms))]
    elif found.expected_from_ms is not None:
        until = reader.say("breaks-no-end") if found.expected_to_ms is None else hour(found.expected_to_ms)
        said = [reader.say("breaks-expected", first=hour(found.expected_from_ms), last=until)]
    if found.break_from_ms is None or found.break_to_ms is None:
        why = reader.say(WHY[found.why]) if found.why in WHY else found.why
        return "; ".join([*said, reader.say("breaks-not", why=why)])
    ages = (reader.number(age_h, "h") for age_h in (found.age_from_h, found.age_to_h))
    low, high = ages
    window = {"first": hour(found.break_from_ms), "last": hour(found.break_to_ms), "low": low, "high": high}
    moved = [reader.say("breaks-moved")] if found.moved else []
    return "; ".join([*said, *moved, reader.say("breaks-break", **window)])


def _results(parts: Parts) -> list[StrengthTest]:
    return [act for act in parts.board.acts_of(KIND) if isinstance(act, StrengthTest)]


def _result(act: StrengthTest, rows: Sequence[MixRow], asked: Asked) -> Line:
    reader, at_ms = asked.reader, act.at_ms if act.tested is None else ms(act.tested)
    method = reader.say(f"method-{act.method.replace(' ', '-')}")
    age = "-" if act.equivalent_age_h is None else reader.number(act.equivalent_age_h, "h")
    cells = [reader.hour(at_ms, asked.now), method, reader.number(act.mpa, "MPa"), age, _against(act, rows, reader)]
    return False, act.pour, cells


def _against(act: StrengthTest, rows: Sequence[MixRow], reader: Reader) -> str:
    """Return what a result is of the curve that its pour is judged by, or why it counts for nothing."""
    if act.method != "cylinder":
        return reader.say("breaks-in-slab")
    if act.equivalent_age_h is None:
        return reader.say("breaks-no-age")
    row = next((row for row in rows for p in row.pours if p.pour.id == act.pour), None)
    if row is None:
        return reader.say("breaks-closed")
    c = row.calibration
    if not c.tested_from_h <= act.equivalent_age_h <= c.tested_to_h:
        return reader.say("breaks-outside")
    curve = float(CURVES[c.curve].strength_mpa(np.array([act.equivalent_age_h]), c.parameters)[0])
    return reader.say("breaks-ratio", ratio=percent(act.mpa / curve))
