from __future__ import annotations

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, judged, make_case, placed, recorded
from hypothesis import given
from hypothesis import strategies as st
from store_support import AIR, EDGE, make_pour

from cure.accounts import BEFORE, NOT_YET, _among
from cure.bay import BayEvidence, evidence
from cure.seen import Cause
from shared.models.base import HOUR_MS
from shared.models.estimate import KeptReadings, SensorAccount
from shared.models.readings import Series
from shared.models.setup import Zone

ALONE = (placed(EDGE, Zone.EXPOSED_EDGE), placed(AIR, Zone.AIR))


def slab(h: float) -> float:
    return 15.0 + 0.07 * ((round(h * 4) * 7) % 3)


def account(found: BayEvidence) -> SensorAccount:
    accounts = found.estimate(()).sensors
    assert [a.sensor for a in accounts] == [EDGE]
    return accounts[0]


def said(edge: Series, hours: float) -> BayEvidence:
    return judged({EDGE: edge, AIR: recorded(8.0, hours, from_h=-1.0)}, hours, make_case(placements=ALONE))


def test_what_is_credited_and_what_came_before_the_end_are_two_things() -> None:
    found = account(said(recorded(slab, 10.0, from_h=-1.0), 10.0))
    before = KeptReadings(BEFORE, 4, END_MS - HOUR_MS, END_MS - QUARTER_MS)
    assert (found.credited, found.kept, found.refused) == (41, (before,), {})


@pytest.mark.row("L5")
def test_what_is_not_believed_is_kept_with_its_reason_from_when_to_when() -> None:
    up = recorded(lambda h: 40.0 if h == 6.0 else slab(h), 10.0)
    found = account(said(up, 10.0))
    at_ms = END_MS + 6 * HOUR_MS
    assert (found.credited, found.kept) == (40, (KeptReadings(str(Cause.SPIKE), 1, at_ms, at_ms),))


def test_what_goes_on_has_no_end_and_stands_in_each_of_its_reasons() -> None:
    found = account(said(recorded(lambda h: slab(h) * 1.8 + 32.0 if h >= 6.0 else slab(h), 10.0), 10.0))
    assert found.credited == 24
    assert [(k.reason, k.readings, k.to_ms) for k in found.kept] == [(str(Cause.UNIT), 17, None)]


def test_what_lies_beyond_checked_time_is_kept_until_it_is_checked() -> None:
    readings = {EDGE: recorded(slab, 10.0), AIR: recorded(8.0, 10.0)}
    found = evidence(make_case(placements=ALONE), readings, END_MS + 10 * HOUR_MS, elapsed_ms=8 * HOUR_MS)
    assert account(found).credited == 33
    assert [(k.reason, k.readings) for k in account(found).kept] == [(NOT_YET, 8)]


def test_before_the_end_of_the_pour_is_known_nothing_is_credited() -> None:
    case = make_case(placements=ALONE, pour=make_pour())
    found = account(judged({EDGE: recorded(slab, 2.0, from_h=-1.0)}, 2.0, case))
    assert (found.credited, [(k.reason, k.readings) for k in found.kept]) == (0, [(BEFORE, 13)])


@given(st.lists(st.integers(0, 30)), st.lists(st.integers(0, 30)))
def test_times_are_looked_up_as_numpy_does(times: list[int], there: list[int]) -> None:
    asked, ascending = np.array(sorted(times), np.int64), np.array(sorted(there), np.int64)
    assert _among(asked, ascending).tolist() == np.isin(asked, ascending).tolist()
