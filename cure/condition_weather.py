"""Weather in the table of a pour's condition: drying of a fresh surface, cold and hot weather. Pure.

Cold weather that is not known counts as cold; the row says that it is not known.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from typing import Final

import numpy as np

from cure.condition_seen import Given, Observed
from cure.condition_table import Kept, Row, bound, held
from cure.covers import LONGEST_HOLE_MS, Night, expected_low_c
from cure.credit import between, together
from cure.days import NIGHT_FROM, NIGHT_TO
from cure.evaporation import drying, menzel_kg_m2_h, uno_kg_m2_h
from cure.limits import LIMITS, Limit, Weight
from cure.weather import COLD_DAYS, SPEAKS_FOR_MS, air_days, cold_by_days, cold_by_fall, hot
from shared import units
from shared.models.base import Ms
from shared.models.readings import Series
from shared.shifts import day_of, hour_of

NO_AIR: Final = "the bay has no air sensor"


def _newest_c(taken: list[tuple[Ms, float]], now_ms: Ms) -> list[float]:
    return [c for at_ms, c in taken if now_ms - at_ms <= SPEAKS_FOR_MS]


def _surface_c(o: Observed) -> float:
    """Return the warmest that the surface may be now, where it dries fastest; NaN: not known."""
    newest = [(int(s.raw.taken_ms[-1]), int(s.raw.milli_c[-1]) / 1000.0) for s in o.surface]
    found = _newest_c(newest, o.now_ms)
    return max(found) if found and len(found) == len(newest) else math.nan


def _air_c(o: Observed) -> float:
    """Return the coldest newest air, which takes up most from warm concrete; NaN: none in the last hour."""
    newest = [(int(s.taken_ms[-1]), int(s.milli_c[-1]) / 1000.0) for s in o.airs if len(s)]
    return min(_newest_c(newest, o.now_ms), default=math.nan)


def drying_now(o: Observed, given: Given) -> Iterator[Row]:
    """Yield the rate of evaporation now, the higher of both formulas, against both limits; then hot weather."""
    concrete_c, air_c = _surface_c(o), _air_c(o)
    humidity = math.nan if given.humidity_percent is None else given.humidity_percent
    wind = math.nan if given.wind_m_s is None else units.m_s_to_km_h(given.wind_m_s)
    missing = (
        (given.humidity_percent is None, "nobody told the humidity"),
        (given.wind_m_s is None, "nobody told the wind"),
        (math.isnan(concrete_c), "not every sensor at the surface has been read in the last hour"),
        (math.isnan(air_c), "the bay's air has not been read in the last hour" if o.airs else NO_AIR),
    )
    why = ", ".join(words for absent, words in missing if absent)
    menzel, uno = (formula(concrete_c, air_c, humidity, wind) for formula in (menzel_kg_m2_h, uno_kg_m2_h))
    rate = math.nan
    for name, little in (("evaporation", False), ("evaporation, little bleeding", True)):
        rate, _ = drying(concrete_c, air_c, humidity, wind, little_bleeding=little)
        of = f"Menzel {menzel:.2f}, Uno {uno:.2f}"
        yield held(f"{name}: from a fresh surface now", rate, LIMITS[name], o.first, why=why, of=of)
    yield from _hot(o, given.delivered_c, rate)


def _hot(o: Observed, delivered_c: float | None, rate: float) -> Iterator[Row]:
    found_c = math.nan if delivered_c is None else delivered_c
    why = "nobody told the concrete as delivered" if delivered_c is None else ""
    yield held("as delivered", found_c, LIMITS["as delivered"], o.first, why=why)
    quantity, limit = "hot weather", "as delivered, and evaporation"
    broken = hot(found_c, rate, little_bleeding=False)
    known = {"as delivered": math.isfinite(found_c), "evaporation": math.isfinite(rate)}
    surely = [name for name in broken if known[name]]
    source = "ACI 305R (from memory), ACI 305.1-14 (read in a summary)"
    if surely:
        yield Row(quantity, f"care is asked for: {', '.join(surely)}", limit, Kept.NOT_KEPT, Weight.ADVICE, source)
    elif broken:
        yield Row(quantity, f"not known: {', '.join(broken)}", limit, Kept.NOT_KNOWN, Weight.ADVICE, source)
    else:
        yield Row(quantity, "both limits are kept", limit, Kept.KEPT, Weight.ADVICE, source)


def cold_weather(o: Observed) -> Iterator[Row]:
    """Yield cold weather by both definitions, from the bay's own air."""
    yield _by_days(o)
    yield _by_fall(o)


def _weather(quantity: str, limit: Limit, first: units.System, kept: Kept, said: str) -> Row:
    head = {Kept.KEPT: "no cold weather", Kept.NOT_KEPT: "cold weather"}.get(kept, "not known, counts as cold weather")
    return Row(quantity, f"{head}: {said}", bound(limit, first), kept, limit.weight, limit.source)


def _by_days(o: Observed) -> Row:
    limit = LIMITS["mean of a cold day"]
    quantity = f"cold weather, older definition: mean of each of the last {COLD_DAYS} days"
    air = together(o.airs)
    if air is None:
        return _weather(quantity, limit, o.first, Kept.NOT_KNOWN, NO_AIR)
    first_ms = hour_of(day_of(o.now_ms, o.zone) - timedelta(days=COLD_DAYS), "00:00", o.zone)
    days = air_days(air, o.zone, first_ms, o.now_ms)
    said = ", ".join(f"{d.day.isoformat()} {_celsius(d.mean_c, o.first)}" for d in days)
    kept = Kept.NOT_KEPT if not any(math.isnan(d.mean_c) for d in days) else Kept.NOT_KNOWN
    return _weather(quantity, limit, o.first, kept if cold_by_days(days) else Kept.KEPT, said)


def _celsius(c: float | None, first: units.System) -> str:
    return units.shown(c, "degC", first=first, limit=False)


def _last_night(o: Observed) -> Night:
    """Return the last whole night of the site."""
    today = day_of(o.now_ms, o.zone)
    if o.now_ms < hour_of(today, NIGHT_TO, o.zone):
        today -= timedelta(days=1)
    return Night(hour_of(today - timedelta(days=1), NIGHT_FROM, o.zone), hour_of(today, NIGHT_TO, o.zone))


def _lowest_c(air: Series, from_ms: Ms, through_ms: Ms) -> float | None:
    """Return the lowest air of a span; None: a hole may hide a lower one that would count."""
    if not len(air):
        return None
    low_c = float(air.milli_c.min()) / 1000.0
    edges = np.concatenate(([from_ms], air.taken_ms, [max(from_ms, through_ms)]))
    whole = int(np.max(np.diff(edges))) <= LONGEST_HOLE_MS
    # A hole can hide cold, never warmth: what was seen to be cold stays so.
    return low_c if whole or not LIMITS["air while protected"].kept(low_c) else None


def _by_fall(o: Observed) -> Row:
    """Return the newer definition: air fallen below since the first concrete, or expected to as in the last night."""
    limit = LIMITS["air while protected"]
    quantity = "cold weather, newer definition: lowest air since the first concrete, and of the last night"
    if o.air is None:
        return _weather(quantity, limit, o.first, Kept.NOT_KNOWN, NO_AIR)
    night = _last_night(o)
    low_c = _lowest_c(o.air, o.case.pour.start_ms, o.now_ms)
    expected_c = expected_low_c([between(a, night.from_ms - 1, night.to_ms) for a in o.airs], night)
    said = f"{_celsius(low_c, o.first)}, last night {_celsius(expected_c, o.first)}"
    if not cold_by_fall([low_c, expected_c]):
        return _weather(quantity, limit, o.first, Kept.KEPT, said)
    surely = any(c is not None and not limit.kept(c) for c in (low_c, expected_c))
    return _weather(quantity, limit, o.first, Kept.NOT_KEPT if surely else Kept.NOT_KNOWN, said)
