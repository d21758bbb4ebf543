from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from store_support import POUR, T0, make_log, make_pour

from cure.forecast import Course, Expected, Forecast, Governs, Source
from cure.kept import CHANCES, LEVELS, came_ms, first_met, kept_of, score_of
from cure.maturity import Floats
from cure.scoring import crps_until
from shared.models.base import HOUR_MS, LOAD, STRIP, MixId, Ms
from shared.models.decisions import LogEntry, PourState, Verdict
from shared.models.estimate import Estimate
from shared.models.forecasts import KeptForecast, Outcome
from shared.ports import BoardRow

MIX = MixId("c32-f")
HORIZON = T0 + 120 * HOUR_MS
_FLAT = Course(np.zeros(1), np.zeros(1), np.zeros(1))


def forecast(**members_h: Floats) -> Forecast:
    """Return a forecast made at T0, with the hours after it of the members of each operation."""
    expected = {
        operation: Expected(
            operation, np.sort(T0 + members_h[operation] * HOUR_MS), {Governs.CLOCK: 1.0}, {Source.MIX: 1.0}
        )
        for operation in (STRIP, LOAD)
        if operation in members_h
    }
    times = np.array([T0], dtype=np.int64)
    return Forecast(POUR, T0, T0 - HOUR_MS, HORIZON, expected, 0.0, times, _FLAT, _FLAT, None)


def strip(members_h: Floats) -> KeptForecast:
    (kept,) = kept_of(forecast(strip=members_h), MIX, 1.2)
    return kept


SPREAD = np.arange(300) / 10.0


def test_a_forecast_is_kept_with_its_three_hours_and_its_levels_unless_it_is_met_already() -> None:
    kept = strip(SPREAD)
    # The 30th, 150th and 270th of 300 members (computed).
    assert (kept.low_ms, kept.middle_ms, kept.high_ms) == (
        T0 + round(2.9 * HOUR_MS),
        T0 + round(14.9 * HOUR_MS),
        T0 + round(26.9 * HOUR_MS),
    )
    assert (kept.mix, kept.widened, len(kept.levels_min)) == (MIX, 1.2, LEVELS)
    assert kept.levels_min[LEVELS // 2] == 894
    assert kept_of(forecast(strip=np.full(300, -2.0)), MIX, 1.0) == []
    late = np.where(SPREAD > 20.0, np.inf, SPREAD)
    assert (strip(late).high_ms, strip(late).levels_min[-1]) == (None, None)
    assert math.isclose(CHANCES[0] + CHANCES[-1], 1.0)


def test_what_came_is_scored_as_the_whole_ensemble_would_be() -> None:
    # Against the ensemble's own score; 39 levels of 300 members differ by some hundredths of an hour.
    for found_h in (1.0, 14.9, 29.0, 60.0):
        score = score_of(7, strip(SPREAD), T0 + round(found_h * HOUR_MS), HORIZON, closed=False)
        assert score is not None
        assert (score.no, score.outcome, score.found_ms) == (7, Outcome.CAME, T0 + round(found_h * HOUR_MS))
        assert score.crps_h is not None
        assert abs(score.crps_h - crps_until(SPREAD, found_h, 120.0)) < 0.03


def test_what_does_not_come_within_the_horizon_is_scored_and_not_left_out() -> None:
    half = np.where(SPREAD > 15.0, np.inf, SPREAD)
    for found_ms, now_ms in ((None, HORIZON), (HORIZON + 1, T0 + HOUR_MS)):
        score = score_of(1, strip(half), found_ms, now_ms, closed=False)
        assert score is not None
        assert (score.outcome, score.found_ms) == (Outcome.NOT_WITHIN, None)
        assert score.crps_h is not None
        # A level is one 39th of what lies between the hours and the horizon: half of that may be on the other side.
        assert abs(score.crps_h - crps_until(half, math.inf, 120.0)) < 0.5 * 120.0 / LEVELS
    assert score_of(1, strip(half), None, HORIZON - 1, closed=False) is None


def test_of_a_pour_that_was_closed_before_and_of_a_forecast_made_too_late_there_is_no_score() -> None:
    closed = score_of(1, strip(SPREAD), None, T0 + HOUR_MS, closed=True)
    assert closed is not None
    assert (closed.outcome, closed.crps_h) == (Outcome.CLOSED, None)
    late = score_of(1, strip(SPREAD), T0 - 1, T0 + HOUR_MS, closed=False)
    assert late is not None
    assert (late.outcome, late.crps_h) == (Outcome.CAME, None)


def row(evidence_ms: Ms | None, *, met: bool) -> BoardRow:
    estimate = None if evidence_ms is None else replace(_estimate(), evidence_ms=evidence_ms)
    state = PourState(T0, 0, T0, estimate=estimate, verdicts=(Verdict(STRIP, (), met, ()),))
    return BoardRow(make_pour(), "2", {}, (), state, ())


def _estimate() -> Estimate:
    return Estimate(T0, 1.0, 5.0, None, 1.0, 1.0, 1.0, 1.0, {})


def test_it_came_when_the_evidence_first_met_the_requirement_whatever_else_held_the_gate() -> None:
    lines = {STRIP: make_log("gate", T0 + 9 * HOUR_MS, to="met", evidence_ms=T0 + 8 * HOUR_MS)}
    assert came_ms(row(T0, met=False), STRIP, {}) is None
    assert came_ms(row(None, met=False), STRIP, {}) is None
    assert came_ms(row(T0 + 5, met=True), STRIP, {}) == T0 + 5
    assert came_ms(row(T0 + 5, met=True), LOAD, {}) is None
    assert came_ms(row(T0 + 5, met=True), STRIP, lines) == T0 + 5
    assert came_ms(None, STRIP, lines) == T0 + round(7.5 * HOUR_MS)
    assert came_ms(None, LOAD, lines) is None


def test_the_first_time_that_a_gate_was_met_is_the_one_that_counts() -> None:
    def line(to: str, at_ms: Ms, what: str = "gate") -> LogEntry:
        return make_log(what, at_ms, pour=POUR, operation=STRIP, to=to)

    found = first_met(iter([line("curing", 1), line("met", 2), line("curing", 3), line("met", 4)]))
    assert found[POUR, STRIP].at_ms == 2
