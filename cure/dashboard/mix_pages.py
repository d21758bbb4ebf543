"""Mixes: how each calibration stands by later cylinders, what the laboratory is to break, and results entered."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Final

from markupsafe import Markup
from pydantic import ValidationError
from starlette.responses import Response

from cure.break_orders import Order, PourOrders, break_orders
from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.batches import batches_said
from cure.dashboard.calibration_chart import calibrated, calibration_chart
from cure.dashboard.chart_words import WORDS
from cure.dashboard.faults import faults_said
from cure.dashboard.ink import SIZES
from cure.dashboard.pour_pages import earlier_ms
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import may
from cure.dashboard.svgchart import both
from cure.plans import LOAD_MPA, STRIP_MPA
from cure.verification import APPLIED, LOW, TOO_HIGH, TOO_LOW
from cure.verification_chart import chart
from cure.verification_report import SetRow, Verification, percent, verification_of
from shared.errors import ActRefusedError
from shared.models.acts import StrengthTest, instant
from shared.models.base import Ms
from shared.ports import MixRow
from shared.shifts import day_of
from shared.units import psi_to_mpa

METHODS: Final = ("cylinder", "pullout", "penetration", "cast-in-place cylinder")


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/mixes"): lambda asked: _list(parts, asked),
        ("GET", "/mix/{mix}"): lambda asked: one_mix(parts, asked),
        ("POST", "/mix/{mix}/break"): lambda asked: _break(parts, asked),
    }


def verifications_of(parts: Parts, asked: Asked) -> list[tuple[MixRow, Verification]]:
    """Return each version of a calibration that is in force or judges an open pour, and how it stands."""
    today = day_of(asked.now, asked.site.site.zone)
    return [(row, verification_of(row, today)) for row in parts.board.mixes()]


def _list(parts: Parts, asked: Asked) -> Response:
    found = verifications_of(parts, asked)
    mixes = [(m, [stands_of(v, asked) for _, v in found if v.mix == m.id]) for m in asked.site.mix]
    return page(asked, "mixes.html", mixes=mixes, may_calibrate=_may_calibrate(asked))


def _may_calibrate(asked: Asked) -> bool:
    return may("GET", "/mix/{mix}/calibrate", asked.visitor.comer)


def stands_of(v: Verification, asked: Asked) -> list[str]:
    """Return how a version stands: in force or not, until when, by later cylinders."""
    say = asked.reader.say
    said = [say("version-in-force" if v.in_force else "version-kept", version=str(v.version), made=v.made_on)]
    if v.valid_until is not None:
        said.append(say("version-over" if v.ended else "version-until", day=v.valid_until.isoformat()))
    said.append(say(f"version-for-{v.fit_for}"))
    if v.suspended is not None:
        said.append(say("version-suspended", why=asked.reader.known(v.suspended)))
    elif v.sets:
        said.append(say("version-counts", ratio=percent(v.ratio)))
    else:
        said.append(say("version-no-set"))
    if v.drifting:
        said.append(say("version-drifts"))
    return said


def _set_key(ratio: float) -> str:
    # Not the other way round: what is no number passes nothing.
    steps = (
        (not ratio >= TOO_LOW, "set-suspends"),
        (not ratio >= LOW, "set-low"),
        (not ratio >= APPLIED, "set-lowers"),
        (not ratio <= TOO_HIGH, "set-strong"),
    )
    return next((key for found, key in steps if found), "set-near")


def _set(s: SetRow, asked: Asked) -> str:
    return asked.reader.say(
        "set-line",
        number=str(s.number),
        pour=s.pour,
        hour=asked.reader.hour(s.tested_ms, asked.now),
        count=s.cylinders,
        ratio=percent(s.ratio),
        says=asked.reader.say(_set_key(s.ratio)),
        sum=percent(s.running_sum),
    )


def one_mix(parts: Parts, asked: Asked, wrong: Sequence[str] = (), done: str = "") -> Response:
    """Return the page of a mix."""
    mix = next((m for m in asked.site.mix if m.id == asked.path["mix"]), None)
    if mix is None:
        return problem(asked, "no-mix", status=404)
    found = [(row, v) for row, v in verifications_of(parts, asked) if v.mix == mix.id]
    orders = [o for o in break_orders(parts.board, asked.site.laboratory, asked.now) if o.mix == mix.id]
    pours = sorted({p.pour.id: p.pour for row, _ in found for p in row.pours}.values(), key=lambda p: -p.start_ms)
    return page(
        asked,
        "mix.html",
        status=422 if wrong else 200,
        mix=mix,
        versions=[_version(row, v, asked) for row, v in found],
        orders=[_order(o, asked) for o in orders],
        pours=[p.id for p in pours],
        methods=METHODS,
        action=f"/mix/{mix.id}/break",
        given=lambda name, usual="": asked.one(name) or usual,
        may_break=may("POST", "/mix/{mix}/break", asked.visitor.comer),
        may_calibrate=_may_calibrate(asked),
        wrong=list(wrong),
        done=done,
    )


def _version(row: MixRow, v: Verification, asked: Asked) -> tuple[int, list[str], list[str], list[Markup]]:
    return (
        v.version,
        [*stands_of(v, asked), *batches_said(row, v, asked.reader)],
        [_set(s, asked) for s in v.sets],
        _charts(row, v, asked),
    )


def drawn(made: Any) -> Markup:
    """Return a chart in both sizes of a page."""
    return Markup(both(made, SIZES))  # noqa: S704 - SVG of ours, escaped already


def _charts(row: MixRow, v: Verification, asked: Asked) -> list[Markup]:
    tested = tuple((f"{asked.reader.number(t.mpa, 'MPa')}", t.equivalent_age_h, t.mpa) for t in row.tests)
    view = calibrated(row.calibration, tested, required_mpa=(STRIP_MPA, LOAD_MPA))
    named = asked.reader.voice.known(row.calibration.curve)
    view = replace(view, curves=(replace(view.curves[0], name=named),))
    words, key = WORDS[asked.reader.language], f"curve-{v.mix}-{v.version}"
    charts = [drawn(calibration_chart(view, first=asked.reader.first, words=words, key=key))]
    if v.sets:
        charts.append(drawn(chart(v.name, [s.ratio for s in v.sets], [s.running_sum for s in v.sets], words)))
    return charts


def _order(pour: PourOrders, asked: Asked) -> tuple[str, list[str], list[str]]:
    notes = [asked.reader.known(note) for note in (pour.verify or "", *pour.notes) if note]
    return f"{pour.bay}, {pour.pour}", [_broken(o, asked) for o in pour.orders], notes


def _broken(order: Order, asked: Asked) -> str:
    say, h = asked.reader.say, order.laboratory
    when = say("order-no-hour")
    if h.break_from_ms is not None and h.break_to_ms is not None:
        when = say("order-hours", first=_hour(h.break_from_ms, asked), last=_hour(h.break_to_ms, asked))
    what = ", ".join(dict.fromkeys(asked.reader.operation(w.what) for w in order.wanted))
    age = asked.reader.number(order.age_h, "h", limit=True)
    return say("order-line", count=order.cylinders, age=age, what=what, when=when)


def _hour(at_ms: Ms, asked: Asked) -> str:
    return asked.reader.hour(at_ms, asked.now)


def _break(parts: Parts, asked: Asked) -> Response:
    if asked.path["mix"] not in {m.id for m in asked.site.mix}:
        return problem(asked, "no-mix", status=404)
    try:
        parts.apply(result_of(asked))
    except ActRefusedError as error:
        return one_mix(parts, asked, [asked.reader.known(str(error))])
    return see_other(f"/mix/{asked.path['mix']}")


def number_of(asked: Asked, name: str) -> float | None:
    """Return a number of the form, with a point or a comma; None: the field is empty. Raises `ActRefusedError`."""
    text = asked.one(name)
    return _number(asked, text) if text else None


def numbers_of(asked: Asked, name: str) -> tuple[float, ...]:
    """Return numbers of one field, a blank or a semicolon between them. Raises `ActRefusedError`."""
    return tuple(_number(asked, text.strip(",")) for text in asked.one(name).replace(";", " ").split())


def _number(asked: Asked, text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ActRefusedError(asked.reader.say("no-number", said=text))
    return value


def result_of(asked: Asked) -> StrengthTest:
    """Return the result in the form. Raises `ActRefusedError` for what is none."""
    strength, at_ms = number_of(asked, "strength"), earlier_ms(asked)
    if strength is None:
        raise ActRefusedError(asked.reader.say("no-number", said=""))
    fields: dict[str, Any] = {
        "pour": asked.one("pour"),
        "method": asked.one("method"),
        "mpa": psi_to_mpa(strength) if asked.one("unit") == "psi" else strength,
        "equivalent_age_h": number_of(asked, "equivalent_age_h"),
        "last_third": asked.one("last_third") == "yes",
        "position": asked.one("position") or None,
        "tested": None if at_ms is None else instant(at_ms),
    }
    try:
        return StrengthTest(at=instant(asked.now), who=str(asked.visitor.person), **fields)
    except ValidationError as error:
        raise ActRefusedError(faults_said(error, asked.reader)) from error
