"""A pour's course: each value is the one that the evidence of its own hour has."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from charts_support import cold_pour
from cure_support import CONCRETE, END_MS, judged, make_case, recorded
from store_support import EDGE

from cure.course import counted_spans, course
from shared.models.base import HOUR_MS


def test_every_value_is_that_of_the_evidence_of_its_hour() -> None:
    evidence = cold_pour().evidence
    assert evidence.watermark_ms is not None
    at_ms = np.linspace(END_MS, evidence.watermark_ms, 37).astype(np.int64)
    found = course(evidence, at_ms)
    for i, at in enumerate(at_ms):
        then = replace(evidence, watermark_ms=int(at))
        estimate, governing = then.estimate(()), then.governing()
        assert found.lower_bound_mpa[i] == pytest.approx(then.lower_bound_mpa(), nan_ok=True)
        assert governing is not None
        assert found.estimate_mpa[i] == pytest.approx(estimate.strength_mpa)
        assert found.equivalent_age_h[i] <= (estimate.equivalent_age_h or 0.0) + 1e-9
    assert np.all(np.diff(found.equivalent_age_h) >= 0.0)


def test_after_the_watermark_nothing_is_known() -> None:
    evidence = cold_pour(70).evidence
    found = course(evidence, np.array([END_MS + 59 * HOUR_MS, END_MS + 61 * HOUR_MS], np.int64))
    assert np.isfinite(found.lower_bound_mpa[0])
    assert np.isnan([found.lower_bound_mpa[1], found.estimate_mpa[1], found.equivalent_age_h[1]]).all()


@pytest.mark.parametrize("what", ["no readings", "no calibration"])
def test_what_is_not_known_is_no_number(what: str) -> None:
    readings = {} if what == "no readings" else {s: recorded(15.0, 24) for s in CONCRETE}
    case = make_case() if what == "no readings" else replace(make_case(), calibration=None)
    found = course(judged(readings, 24, case), np.array([END_MS + HOUR_MS], np.int64))
    assert np.isnan(found.lower_bound_mpa).all()
    assert np.isnan(found.estimate_mpa).all()


def test_the_stretches_that_count_add_up_to_the_counted_hours_and_the_cold_ones_to_the_cold_hours() -> None:
    evidence = cold_pour().evidence
    counted, cold = counted_spans(evidence, 5.0)
    assert sum(b - a for a, b in counted) / HOUR_MS == pytest.approx(evidence.counted_h(5.0))
    assert sum(b - a for a, b in cold) / HOUR_MS == pytest.approx(evidence.cold_h(5.0))
    both = sorted([*counted, *cold])
    assert all(b <= c for (_, b), (c, _) in pairwise(both))
    assert len(cold) == 2


def test_without_credit_nothing_counts_and_nothing_is_cold() -> None:
    assert counted_spans(judged({EDGE: recorded(2.0, 20)}, 20), 5.0) == ([], [])
