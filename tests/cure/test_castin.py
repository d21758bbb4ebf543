from __future__ import annotations

import math

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, Profile, judged, make_case, placed, recorded
from store_support import AIR, EDGE

from cure.bay import BayEvidence
from cure.seen import Cause
from shared.models.base import HOUR_MS, Ms
from shared.models.decisions import HoldKind, PourState
from shared.models.readings import Series
from shared.models.setup import Zone

ALONE = (placed(EDGE, Zone.EXPOSED_EDGE), placed(AIR, Zone.AIR))


def rippling(h: float) -> float:
    return 9.0 + 3.0 * math.sin(h / 4.0) + 0.3 * math.sin(h * 3.0) + 0.2 * math.sin(h * 5.0)


def said(edge: Profile, hours: float, air: Profile = rippling, state: PourState | None = None) -> BayEvidence:
    case = make_case(placements=ALONE, state=PourState() if state is None else state)
    readings = {EDGE: recorded(edge, hours, from_h=-3.0), AIR: recorded(air, hours, from_h=-3.0)}
    return judged(readings, hours, case)


def near_air(h: float) -> float:
    """A logger beside the air sensor, half a degree off."""
    return rippling(h) + 0.5


def lagging(h: float) -> float:
    """Concrete placed at the air's temperature, which damps whatever is quick."""
    return 9.2 + 2.6 * math.sin((h - 2.0) / 4.0) + 0.05 * math.sin((h - 2.0) * 3.0)


def credited_h(found: BayEvidence) -> float:
    """Hours that the sensor has to its credit."""
    track = found.sensors[0].track
    return 0.0 if track is None else float(np.sum(np.diff(track.taken_ms)[~np.isnan(track.low_c)])) / HOUR_MS


@pytest.mark.row("L5", "L6")
@pytest.mark.parametrize("hours", [1.0, 2.0, 3.0, 6.0, 10.0, 12.0, 24.0])
def test_a_logger_in_the_air_never_has_more_than_two_hours_to_its_credit(hours: float) -> None:
    found = said(near_air, hours)
    assert credited_h(found) <= 2.0
    assert any(d.told for d in found.doubts) or hours < 11.0


@pytest.mark.row("L6")
def test_what_lags_the_air_counts_from_the_end_of_the_pour_once_that_is_seen() -> None:
    early, later = said(lagging, 4.0), said(lagging, 9.0)
    assert [d.cause for d in early.doubts] == [Cause.UNSEEN]
    assert not early.doubts[0].told
    assert credited_h(early) == 2.0
    assert later.doubts == ()
    assert credited_h(later) == 9.0


@pytest.mark.row("L6")
def test_a_step_at_the_placing_is_enough_in_air_that_does_not_move() -> None:
    still: Profile = lambda _: 9.0  # noqa: E731
    stepped = said(lambda h: 9.0 if h < -0.5 else 13.0 - min(4.0, (h + 0.5) * 2.0), 12.0, still)
    assert Cause.UNSEEN not in [d.cause for d in stepped.doubts]
    felt_nothing = said(lambda _: 9.3, 12.0, still)
    assert [(d.cause, d.hold) for d in felt_nothing.doubts] == [(Cause.UNSEEN, HoldKind.PLACEMENT)]


@pytest.mark.row("L6")
@pytest.mark.parametrize(("off_c", "seen"), [(1.9, False), (2.1, True), (3.1, True), (-2.3, True)])
def test_hours_apart_from_the_air_are_enough(off_c: float, seen: bool) -> None:
    still: Profile = lambda _: 9.0  # noqa: E731
    found = said(lambda h: 9.0 + (0.0 if h < -0.9 else off_c) + 0.07 * (round(h * 4) % 3), 8.0, still)
    assert (Cause.UNSEEN not in [d.cause for d in found.doubts]) is seen


def test_a_person_who_lifts_the_hold_says_that_it_lies_there_and_all_of_it_counts() -> None:
    answered = PourState(memory={"doubtful": {EDGE: {Cause.UNSEEN: True}}})
    found = said(lambda _: 9.3, 12.0, lambda _: 9.0, answered)
    assert found.doubts == ()
    assert credited_h(found) == 12.0


def test_without_the_bays_air_it_is_silent_and_so_it_is_when_most_of_the_air_is_missing() -> None:
    edge = recorded(near_air, 12.0, from_h=-3.0)
    assert judged({EDGE: edge}, 12.0, make_case(placements=ALONE)).doubts == ()
    few: list[Ms] = [END_MS + i * 8 * QUARTER_MS for i in range(8)]
    air = Series(np.array(few, np.int64), np.full(len(few), 9000, np.int64))
    assert judged({EDGE: edge, AIR: air}, 12.0, make_case(placements=ALONE)).doubts == ()
