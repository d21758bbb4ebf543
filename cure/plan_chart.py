"""The chart of a planned pour: temperature and bound of strength as bands, and the hours of an operation. Pure."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from cure.dashboard.chart_words import Words
from cure.dashboard.charts import ENGLISH
from cure.dashboard.layers import Band, Chart, Layer, Level, Line, Panel, Upright
from cure.dashboard.scales import hours_of
from cure.forecast import Course
from cure.maturity import Floats
from cure.planner import Tried
from shared import units
from shared.models.base import HOUR_MS, Ms
from shared.models.requirement import AllRule, AnyRule, Rule, StrengthRule, WarmRule

LATER_MS = 12 * HOUR_MS
"""So much is shown after the hour of which it is asked."""


def _leaves(rule: Rule) -> Iterator[Rule]:
    if isinstance(rule, AllRule | AnyRule):
        for part in rule.all if isinstance(rule, AllRule) else rule.any:
            yield from _leaves(part)
    else:
        yield rule


def _ends_ms(tried: Tried) -> Ms:
    hours = [h for h in (tried.wanted_ms, tried.ready_ms, tried.work.end_ms + 24 * HOUR_MS) if h is not None]
    return min(max(hours) + LATER_MS, tried.forecast.horizon_ms)


def _course(
    name: str, x: Floats, course: Course, inside: NDArray[np.bool_], scale: float, shift: float = 0.0
) -> list[Layer]:
    low, middle, high = (scale * values[inside] + shift for values in (course.low, course.middle, course.high))
    return [Band(f"{name}, 10-90 %", x, low, high), Line(name, x, middle, 0, "forecast")]


def plan_chart(
    tried: Tried, rule: Rule, zone: str, *, first: units.System = "SI", words: Words = ENGLISH, key: str = "plan"
) -> Chart:
    """Return the chart of one case.

    Args:
        tried: the case with its answer.
        rule: the requirement of its operation, whose limits are drawn.
        zone: IANA time zone of the site.
        first: which units stand first.
        words: of one language.
        key: tells it from other charts of a page.
    """
    forecast, ends_ms = tried.forecast, _ends_ms(tried)
    inside = forecast.times_ms <= ends_ms
    x = forecast.times_ms[inside].astype(np.float64)
    us = first == "US"
    warm = sorted({leaf.at_c for leaf in _leaves(rule) if isinstance(leaf, WarmRule)})
    degrees = [Level(units.shown(c, "degC", first=first, limit=True), 1.8 * c + 32.0 if us else c) for c in warm]
    scale, shift = (1.8, 32.0) if us else (1.0, 0.0)
    hours: list[Layer] = [*_uprights(tried, words)]
    upper = [*_course(words.forecast, x, forecast.governing_c, inside, scale, shift), *degrees, *hours]
    panels = [Panel("°F" if us else "°C", tuple(upper), share=0.8)]
    if forecast.bound_mpa is not None:
        factor = units.PSI_PER_MPA if us else 1.0
        wanted = sorted({leaf.lower_bound_mpa for leaf in _leaves(rule) if isinstance(leaf, StrengthRule)})
        limits = [Level(units.shown(mpa, "MPa", first=first, limit=True), factor * mpa) for mpa in wanted]
        lower = [*_course(words.lower_bound, x, forecast.bound_mpa, inside, factor), *limits, *hours]
        panels.append(Panel("psi" if us else "MPa", tuple(lower), least=0.0))
    across = hours_of(zone, int(forecast.times_ms[0]), ends_ms, words.days)
    return Chart(key, f"{words.forecast}: {tried.work.pour}", across, tuple(panels))


def _uprights(tried: Tried, words: Words) -> Iterator[Upright]:
    said = words.operation(tried.operation)
    for chance in () if tried.expected is None else (0.1, 0.5, 0.9):
        at_ms = None if tried.expected is None else tried.expected.at(chance)
        if at_ms is not None and at_ms <= _ends_ms(tried):
            yield Upright(f"{said} {100 * chance:.0f} %" if chance == 0.5 else f"{100 * chance:.0f} %", float(at_ms))
