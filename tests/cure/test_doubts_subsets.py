"""Whatever is said, and whichever rules are on: no finding about a sensor ever makes a release earlier."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, judged, make_case, placed
from hypothesis import given, settings
from hypothesis import strategies as st
from store_support import AIR, EDGE, INSIDE, make_site

import cure.doubts
import cure.erratic
from cure.bay import BayEvidence
from cure.erratic import error_values
from cure.seen import Seen
from shared.models.base import HOUR_MS, SensorId
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

BESIDE: Final = SensorId("lg-05.1")
RULES: Final = (
    (cure.doubts, "_stuck"),
    (cure.doubts, "_restless"),
    (cure.doubts, "_not_fresh"),
    (cure.doubts, "_apart"),
    (cure.doubts, "misplaced"),
    (cure.doubts, "unseen"),
    (cure.erratic, "spikes"),
    (cure.erratic, "unit_slips"),
    (cure.erratic, "batches"),
    (cure.erratic, "other_pace"),
)
ERROR_C: Final = (64.0, -17.8)
WHAT: Final = ("honest", "hot", "cold", "air", "stuck", "stuck cold", "slip", "error", "error cold", "silent", "burst")


def _case(*, errors: bool) -> PourCase:
    site = make_site()
    if errors:
        bays = [b.model_dump(mode="json") for b in site.bay]
        bays[0]["sensors"] = [{**s, "type": "probe"} for s in bays[0]["sensors"]]
        bays[0]["sensors"].append({"id": BESIDE, "zone": "exposed edge", "depth_mm": 50, "type": "probe"})
        site = make_site(bay=bays, sensor_type=[{"id": "probe", "error_values_c": list(ERROR_C)}])
    return make_case(
        site=site,
        placements=(
            placed(EDGE, Zone.EXPOSED_EDGE),
            placed(BESIDE, Zone.EXPOSED_EDGE),
            placed(INSIDE, Zone.INTERIOR),
            placed(AIR, Zone.AIR),
        ),
    )


PLAIN: Final = _case(errors=False)
DECLARED: Final = _case(errors=True)


def _air_c(h: float, level: float) -> float:
    return level + 3.0 * math.sin(h / 4.0) + 0.3 * math.sin(h * 3.0)


def _said(what: str, h: float, level: float, from_h: float, to_h: float) -> float | None:
    slab = level + 9.0 * math.exp(-max(0.0, h) / 12.0) + 0.07 * ((round(h * 4) * 7) % 3)
    if not from_h <= h <= to_h:
        return slab
    return {
        "honest": slab,
        "hot": slab + (25.0 if round(h * 4) % 4 == 0 else 0.0),
        "cold": slab - (25.0 if round(h * 4) % 4 == 0 else 0.0),
        "air": _air_c(h, level),
        "stuck": 31.0,
        "stuck cold": 3.5,
        "slip": slab * 1.8 + 32.0,
        "error": ERROR_C[0] if round(h * 4) % 3 == 0 else slab,
        "error cold": ERROR_C[1] if round(h * 4) % 3 == 0 else slab,
        "silent": None,
        "burst": slab,
    }[what]


def _record(what: str, level: float, from_h: float, to_h: float, shift_ms: int) -> Series:
    rows = []
    for q in range(-12, 30 * 4):
        h = q / 4
        c = _said(what, h, level, from_h, to_h)
        if c is not None:
            at = END_MS + q * QUARTER_MS + shift_ms
            if what == "burst" and from_h <= h <= to_h:
                # Held back, and stamped when it arrived.
                at = END_MS + round(to_h * 4) * QUARTER_MS + shift_ms + round((h - from_h) * 4000)
            rows.append((at, round(c * 1000)))
    rows = sorted(dict(rows).items())
    return Series(np.array([t for t, _ in rows], np.int64), np.array([c for _, c in rows], np.int64))


spans = st.tuples(st.integers(-4, 100), st.integers(0, 60)).map(lambda s: (s[0] / 4, (s[0] + s[1]) / 4))
sensors = st.tuples(st.sampled_from(WHAT), spans, st.sampled_from([0, 0, 60_000, 420_000]))


def _evidence(told: Sequence[tuple[str, tuple[float, float], int]], level: float, hours: float, case: PourCase) -> Any:
    readings = {
        sensor: _record(what, level, *span, shift)
        for sensor, (what, span, shift) in zip((EDGE, BESIDE, INSIDE), told, strict=True)
    }
    readings[AIR] = _record("air", level - 3.0, -3.0, 40.0, 0)
    return judged(readings, hours, case)


def _nothing(*_: object, **__: object) -> tuple[()]:
    return ()


def _none_hidden(s: Seen, *_: object) -> Seen:
    return s


def _never_more(one: float, other: float) -> bool:
    return math.isnan(one) or one <= other + 1e-9


def _asked(e: BayEvidence) -> tuple[float, ...]:
    """Return what only grows towards a release."""
    return e.counted_h(5.0), e.lower_bound_mpa(), e.governing_age_h(), e.age_h(), e.coldest_through_c(1.0)


def _later(with_rules: BayEvidence, without: BayEvidence) -> None:
    for one, other in zip(_asked(with_rules), _asked(without), strict=True):
        assert _never_more(one, other)
    assert with_rules.fresh() <= without.fresh()
    safe = without.safe_from_freezing_ms
    found = with_rules.safe_from_freezing_ms
    assert found is None or (safe is not None and found >= safe)
    for mine, theirs in zip(with_rules.sensors, without.sensors, strict=True):
        if mine.track is not None:
            assert theirs.track is not None
            assert np.all(mine.track.sums[-1] <= theirs.track.at(int(mine.track.taken_ms[-1])) + 1e-9)


@settings(max_examples=40, deadline=None)
@given(
    told=st.tuples(sensors, sensors, sensors),
    level=st.sampled_from([4.0, 8.0, 14.0, 22.0]),
    hours=st.integers(4, 108).map(lambda q: q / 4),
    off=st.sets(st.sampled_from(RULES)),
    errors=st.booleans(),
)
@pytest.mark.row("L2", "L3", "L5", "L16", "R3")
def test_with_any_of_the_rules_on_nothing_is_credited_that_is_not_credited_with_none(
    told: Any, level: float, hours: float, off: set[Any], errors: bool
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        for module, name in off:
            patch.setattr(module, name, _nothing)
        with_rules = _evidence(told, level, hours, DECLARED if errors else PLAIN)
    with pytest.MonkeyPatch.context() as patch:
        for module, name in RULES:
            patch.setattr(module, name, _nothing)
        without = _evidence(told, level, hours, PLAIN)
        assert without.doubts == ()
    _later(with_rules, without)
    _cold_is_seen(with_rules, without)


def _cold_is_seen(with_rules: BayEvidence, without: BayEvidence) -> None:
    """Every reading from -2 to 2 degC, and all but declared errors below it, reaches the freeze rule."""
    for one, other in zip(with_rules.sensors, without.sensors, strict=True):
        gone = np.setdiff1d(other.raw.taken_ms, one.raw.taken_ms)
        values = other.raw.milli_c[np.isin(other.raw.taken_ms, gone)]
        assert np.all(np.abs(values) > 2000)
        assert set(values.tolist()) <= {64_000, -17_800}


@given(st.lists(st.integers(-2000, 2000), min_size=1, max_size=20), st.sets(st.integers(-2000, 2000)))
def test_no_reading_from_minus_2_to_plus_2_is_ever_an_error_value(milli_c: list[int], declared: set[int]) -> None:
    times = END_MS + QUARTER_MS * np.arange(len(milli_c), dtype=np.int64)
    s = Seen(placed(EDGE, Zone.EXPOSED_EDGE), Series(times, np.array(milli_c, np.int64)))
    assert not error_values(s, sorted(declared), END_MS + HOUR_MS).any()
