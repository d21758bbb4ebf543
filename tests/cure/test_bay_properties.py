"""What no reading, missing reading, gap or late reading can do to the credit of a pour."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, judged, make_case, placed
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from store_support import AIR, EDGE, INSIDE, make_calibration

from cure.accumulate import COLUMNS, Track
from cure.bay import BayEvidence, evidence
from cure.bound import lower_bound_mpa
from cure.requirements import findings
from shared.models.base import DAY_MS, HOUR_MS, Ms, SensorId
from shared.models.readings import Series
from shared.models.requirement import CountedRule, StrengthRule, WarmRule
from shared.models.setup import Zone

HOURS = 30
CASE = make_case(placements=(placed(EDGE, Zone.EXPOSED_EDGE), placed(INSIDE, Zone.INTERIOR), placed(AIR, Zone.AIR)))
Readings = dict[SensorId, Series]
few = settings(deadline=None, max_examples=60)


@st.composite
def honest(draw: st.DrawFn) -> Readings:
    """A slab no colder than the air less 4 degC, which is what a gap allows for."""
    hours = np.arange(-4, 4 * HOURS + 1) / 4.0
    base, swing = draw(st.floats(-2, 18)), draw(st.floats(0, 6))
    air = base + swing * np.sin(hours / 3.8 + draw(st.floats(0, 6))) + 0.2 * np.sin(3.1 * hours)
    out = {AIR: air}
    for sensor in (EDGE, INSIDE):
        own = draw(st.floats(0, 14)) * np.exp(-(((hours - draw(st.floats(0, 12))) / draw(st.floats(5, 20))) ** 2))
        lagged = np.interp(hours - draw(st.floats(0.8, 4)), hours, air)
        out[sensor] = np.maximum(air - 3.9, lagged + own + draw(st.floats(0, 3)))
    times = END_MS + np.round(hours * HOUR_MS).astype(np.int64)
    return {sensor: Series(times, np.round(c * 1000).astype(np.int64)) for sensor, c in out.items()}


def without(series: Series, gone: Any) -> Series:
    keep = ~np.isin(np.arange(len(series)), list(gone))
    return Series(series.taken_ms[keep], series.milli_c[keep])


def credit(found: BayEvidence) -> list[float]:
    """Return every number that a release asks for, and every sensor's sums."""
    sums = [s.track.sums[-1].tolist() if s.track else [0.0] * COLUMNS for s in found.sensors]
    return [found.counted_h(5.0), found.counted_h(10.0), found.lower_bound_mpa(), *np.concatenate(sums).tolist()]


def no_more(less: BayEvidence, more: BayEvidence) -> bool:
    return all(math.isnan(a) or not a > b + 1e-9 for a, b in zip(credit(less), credit(more), strict=True))


@pytest.mark.row("E1")
@few
@given(honest(), st.sampled_from([EDGE, INSIDE]), st.sets(st.integers(0, 4 * HOURS + 4), max_size=60))
def test_taking_readings_away_raises_nothing(all_of: Readings, sensor: SensorId, gone: set[int]) -> None:
    whole = judged(all_of, HOURS, CASE)
    # What is not believed as a whole may be believed in part: then nothing of the whole was credited.
    assume(not whole.doubts)
    assert no_more(judged({**all_of, sensor: without(all_of[sensor], gone)}, HOURS, CASE), whole)


@pytest.mark.row("E1")
@few
@given(honest(), st.integers(4, 100), st.integers(1, 60), st.booleans())
def test_a_gap_of_all_sensors_raises_nothing(all_of: Readings, first: int, length: int, air_too: bool) -> None:
    whole = judged(all_of, HOURS, CASE)
    assume(not whole.doubts)
    gone = range(first, first + length)
    holed = {s: without(r, gone) if air_too or s != AIR else r for s, r in all_of.items()}
    assert no_more(judged(holed, HOURS, CASE), whole)


@pytest.mark.row("E13")
@few
@given(honest(), st.sampled_from([EDGE, INSIDE]), st.integers(0, 4 * HOURS + 4), st.floats(0.001, 40))
def test_a_colder_late_reading_raises_nothing(all_of: Readings, sensor: SensorId, i: int, by_c: float) -> None:
    before = judged(all_of, HOURS, CASE)
    assume(not before.doubts)
    colder = all_of[sensor].milli_c.copy()
    colder[i] -= max(1, round(by_c * 1000))
    after = judged({**all_of, sensor: Series(all_of[sensor].taken_ms, colder)}, HOURS, CASE)
    assert no_more(after, before)
    assert not after.coldest_through_c(1.0) > before.coldest_through_c(1.0)


@pytest.mark.row("E8")
@few
@given(honest())
def test_the_coldest_sensor_governs_every_number_and_never_the_mean_or_the_best(all_of: Readings) -> None:
    both = judged(all_of, HOURS, CASE)
    assume(not both.doubts)
    edge, inside, air = CASE.placements
    edge_alone = replace(CASE, placements=(edge, replace(inside, required=False), air))
    assert both.lower_bound_mpa() <= judged(all_of, HOURS, edge_alone).lower_bound_mpa()
    coldest = min(int(s.raw.milli_c[s.raw.taken_ms >= END_MS + (HOURS - 1) * HOUR_MS].min()) for s in both.sensors)
    assert both.coldest_through_c(1.0) == coldest / 1000.0
    low = [s.track.low_c for s in both.sensors if s.track is not None]
    assert both.counted_h(5.0) == float(np.sum(np.minimum(*low) >= 5.0)) / 4.0
    sums = np.stack([s.track.sums[-1] for s in both.sensors if s.track is not None])
    assert both.lower_bound_mpa() == lower_bound_mpa(sums, make_calibration(), CASE.mix).min()


@pytest.mark.row("E12", "C1", "C6")
@few
@given(honest(), st.integers(0, HOURS * HOUR_MS), st.integers(-DAY_MS, 10 * DAY_MS))
def test_no_more_is_credited_than_checked_time_whatever_the_wall_clock_and_the_loggers_say(
    all_of: Readings, elapsed_ms: int, wall_ms: int
) -> None:
    found = evidence(CASE, all_of, END_MS + HOURS * HOUR_MS + max(0, wall_ms), elapsed_ms=elapsed_ms)
    assert not found.counted_h(-40.0) > elapsed_ms / HOUR_MS
    assert found.watermark_ms is None or found.watermark_ms <= END_MS + elapsed_ms
    for s in found.sensors:
        assert s.track is None or int(s.track.taken_ms[-1] - s.track.taken_ms[0]) <= elapsed_ms
        assert len(s.raw) > 0


@pytest.mark.row("E12")
def test_credit_for_more_hours_than_have_passed_is_no_credit_at_all() -> None:
    all_of = {s: Series(END_MS + QUARTER_MS * np.arange(121), np.full(121, 18_000)) for s in (EDGE, INSIDE)}
    found = judged(all_of, HOURS, CASE)
    assert found.counted_h(5.0) == HOURS
    wrong = replace(found, elapsed_ms=HOURS * HOUR_MS - 1)
    assert math.isnan(wrong.counted_h(5.0))
    assert math.isnan(wrong.lower_bound_mpa())
    none = evidence(CASE, all_of, END_MS + HOURS * HOUR_MS, elapsed_ms=None)
    assert none.governing() is None
    assert math.isnan(none.counted_h(5.0))


RULES = (CountedRule(counted_h=1.0, at_c=5.0), WarmRule(warm_h=1.0, at_c=5.0), StrengthRule(lower_bound_mpa=1.0))


@pytest.mark.row("E3")
@pytest.mark.parametrize("name", ["low_c", "sums"])
@pytest.mark.parametrize("bad", [float("nan"), -math.inf])
@given(at=st.integers(0, 119), which=st.integers(0, 1))
@few
def test_what_is_not_a_number_anywhere_in_the_sums_raises_nothing(name: str, bad: float, at: int, which: int) -> None:
    all_of = {s: Series(END_MS + QUARTER_MS * np.arange(121), np.full(121, 18_000)) for s in (EDGE, INSIDE)}
    whole = judged(all_of, HOURS, CASE)
    s = whole.sensors[which]
    assert s.track is not None
    values = {f.name: getattr(s.track, f.name) for f in fields(Track)}
    # As a sum goes on from what it was, so does what is not a number.
    values[name] = values[name].copy()
    values[name][at : None if name == "sums" else at + 1] = bad
    sensors = list(whole.sensors)
    sensors[which] = replace(s, track=Track(**values))
    assert no_more(replace(whole, sensors=tuple(sensors)), whole)
    if name == "sums":
        broken = findings_of(replace(whole, sensors=tuple(sensors)))
        assert not broken["lower bound of strength"]


def findings_of(found: BayEvidence) -> dict[str, bool]:
    return {f.rule: f.met for rule in RULES for f in findings(rule, found)}


@pytest.mark.row("E3")
@pytest.mark.parametrize("name", ["su_mpa", "tau_h", "beta"])
def test_a_calibration_that_is_not_a_number_meets_nothing(name: str) -> None:
    all_of = {s: Series(END_MS + QUARTER_MS * np.arange(193), np.full(193, 18_000)) for s in (EDGE, INSIDE)}
    fine = make_calibration()
    assert judged(all_of, 48, replace(CASE, calibration=fine)).lower_bound_mpa() > 1.0
    parameters = fine.parameters.model_copy(update={name: float("nan")})
    found = judged(all_of, 48, replace(CASE, calibration=fine.model_copy(update={"parameters": parameters})))
    assert not found.lower_bound_mpa() > 0.0


@pytest.mark.row("E2", "L8")
@given(st.integers(0, 14 * 24 * 4), st.integers(1, 400))
@few
def test_only_whole_milliseconds_within_the_pour_and_its_placements_are_credited(old: int, new: int) -> None:
    first: Ms = END_MS - old * QUARTER_MS
    times = np.arange(first, END_MS + new * QUARTER_MS + 1, QUARTER_MS, dtype=np.int64)
    edge = Series(times, np.full(len(times), 30_000))
    closed = replace(CASE.pour, closed_ms=END_MS + 100 * QUARTER_MS)
    case = replace(CASE, placements=(placed(EDGE, Zone.EXPOSED_EDGE),), pour=closed)
    found = judged({EDGE: edge}, new / 4 + 1, case)
    assert found.counted_h(5.0) == min(new, 100) / 4.0
    for s in found.sensors:
        assert s.raw.taken_ms.dtype == np.int64
        assert int(s.raw.taken_ms[0]) >= CASE.pour.start_ms
