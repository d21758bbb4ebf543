"""Curing in the table of a pour's condition: hours that count, days that each rule wants, when it is reached. Pure.

What is counted are hours at a temperature of the coldest zone; whether the concrete was kept moist no sensor tells.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.condition_seen import Given, Observed
from cure.condition_table import NO_END, Kept, Row, held, no_bound
from cure.curing import CURING, DAY_H, CuringRule, cured_share, required_h
from cure.limits import Limit, Weight
from cure.maturity import Floats
from shared import units
from shared.models.base import HOUR_MS, Ms
from shared.shifts import site_hour

ACI_SHARE: Final = 0.7
"""Of the specified strength: ACI 308.1 and ACI 318, 26.5.3 (from memory)."""
LAST_BITS: Final = 1e-9


@dataclass(frozen=True, slots=True)
class _Spans:
    """What counts: each stretch with its end, its length and the coldest that the bay may have been in it."""

    end_ms: NDArray[np.int64]
    h: Floats
    coldest_c: Floats


def _spans(o: Observed) -> _Spans | None:
    found, through_ms = o.evidence.coldest_spans, o.evidence.watermark_ms
    if found is None or through_ms is None:
        return None
    span_ms, coldest_c = found
    # The last stretch ends at the watermark.
    return _Spans(through_ms - (span_ms.sum() - np.cumsum(span_ms)), span_ms / HOUR_MS, coldest_c)


def _days(hours: float, *, limit: bool) -> str:
    scaled = round(10.0 * hours / DAY_H, 6)
    return f"{(math.ceil(scaled) if limit else math.floor(scaled)) / 10.0:g} d"


def _wanted(rule: CuringRule, ratio: float | None, first: units.System) -> str:
    """Return the days that a rule wants by temperature, for one development of strength."""
    from_c = np.array([c for c, _ in rule.days])
    hours = required_h(rule, from_c, ratio=ratio)
    if not np.isfinite(hours).any():
        return "no days given for so slow a concrete"
    each = zip(from_c.tolist(), hours.tolist(), strict=True)
    return ", ".join(f"from {units.shown(c, 'degC', first=first, limit=True)} {_days(h, limit=True)}" for c, h in each)


def curing(o: Observed, given: Given) -> Iterator[Row]:
    """Yield each rule with the share that is done, and the specified strength that ends curing by ACI 308."""
    spans, ratio = _spans(o), given.strength_ratio
    for name, rule in CURING.items():
        row = Row(f"curing, {name}", "", _wanted(rule, ratio, o.first), Kept.NOT_KNOWN, rule.weight, rule.source)
        if spans is None:
            why = NO_END if o.case.pour.end_ms is None else "a required sensor has no credit yet"
            yield replace(row, found=f"not known: {why}")
        else:
            yield _of_rule(o, row, rule, spans, ratio)
    yield _by_strength(o)


def _of_rule(o: Observed, row: Row, rule: CuringRule, spans: _Spans, ratio: float | None) -> Row:
    share = cured_share(rule, spans.h, spans.coldest_c, ratio=ratio)
    hours = float(np.sum(spans.h[np.isfinite(required_h(rule, spans.coldest_c, ratio=ratio))]))
    percent = min(100, math.floor(round(100.0 * share, 6)))
    counted = f"{units.shown(hours, 'h', limit=False)} ({_days(hours, limit=False)})"
    done = f"{percent} % done, {counted} counted"
    if share >= 1.0:
        reached_ms = _reached_ms(rule, spans, ratio)
        said = f"{done}, reached {site_hour(reached_ms, o.zone)}"
        return replace(row, found=said, kept=Kept.KEPT, value=share, reached_ms=reached_ms)
    expected_ms, said = _expected(o, rule, share, ratio)
    return replace(row, found=f"{done}; {said}", kept=Kept.NOT_YET, value=share, expected_ms=expected_ms)


def _reached_ms(rule: CuringRule, spans: _Spans, ratio: float | None) -> Ms:
    shares = np.cumsum(spans.h / required_h(rule, spans.coldest_c, ratio=ratio))
    # Added in this order it may lack the last bits that the exact sum has, which must not cost a whole stretch.
    i = min(int(np.searchsorted(shares, 1.0 - LAST_BITS, side="left")), len(shares) - 1)
    return int(spans.end_ms[i])


def _expected(o: Observed, rule: CuringRule, share: float, ratio: float | None) -> tuple[Ms | None, str]:
    """Return when a rule will be reached if the coldest concrete stays as it is, and the words for it."""
    present_c = o.evidence.coldest_now_c()
    if present_c is None:
        return None, "when is not known: no sensor is alive"
    shown = units.shown(present_c, "degC", first=o.first, limit=False)
    rest_h = (1.0 - share) * float(required_h(rule, np.array([present_c]), ratio=ratio)[0])
    if not math.isfinite(rest_h):
        return None, f"at the present {shown} no hour counts"
    expected_ms = o.now_ms + math.ceil(rest_h * HOUR_MS)
    return expected_ms, f"if it stays at {shown}: {site_hour(expected_ms, o.zone)}"


def _by_strength(o: Observed) -> Row:
    specified_mpa, rule = o.case.mix.specified_mpa, CURING["ACI 308"]
    quantity = "curing, ACI 308: until 70 % of the specified strength, lower bound"
    if specified_mpa is None:
        why = f"specified_mpa of mix {o.case.mix.id} is not set"
        return Row(quantity, f"not known: {why}", "at least 70 %", Kept.NOT_KNOWN, Weight.RULE, rule.source)
    limit = Limit(ACI_SHARE * specified_mpa, "MPa", at_least=True, weight=Weight.RULE, source=rule.source)
    row = held(quantity, o.evidence.lower_bound_mpa(), limit, o.first, why=no_bound(o))
    return replace(row, kept=Kept.NOT_YET) if row.kept is Kept.NOT_KEPT else row
