"""The story of the demo, held against the readings and the truth alone: no estimator is asked."""

from __future__ import annotations

import pytest
from demo_support import concrete, counted_h

from deploy.demo.loggers import site
from deploy.demo.scenario import CLOSE_MS, IN_AIR, OPEN_MS, POURS, SLABS, opening_acts, timed_acts, tuesday
from deploy.demo.truth import true_strength_mpa
from shared.models.acts import PourEnd, PourStart, Want
from shared.models.base import HOUR_MS, BayId
from shared.models.setup import Zone

ENTERED = {p.bay: p.end_ms for p in POURS}
REAL = {s.bay: s.end_ms for s in SLABS}
FLOOR_2 = [b for b in ENTERED if b.startswith("2")]
FLOOR_3 = [b for b in ENTERED if b.startswith("3")]
OVERNIGHT, LATE, DELAYED, AIR = (BayId(b) for b in ("2-b1", "2-b3", "3-b1", "3-b3"))


def coldest_c(bay: BayId, after: int, through: int = CLOSE_MS) -> float:
    return min(r.milli_c for rows in concrete(bay).values() for r in rows if after < r.taken_ms <= through) / 1000


@pytest.mark.parametrize("bay", FLOOR_2)
def test_the_second_floor_has_its_24_counted_hours_when_the_demo_opens(bay: BayId) -> None:
    assert counted_h(bay, ENTERED[bay], OPEN_MS) >= 24.0
    assert coldest_c(bay, ENTERED[bay], tuesday(15)) >= 5.0


def test_the_late_ticket_takes_the_24_hours_away_and_they_come_back_within_the_afternoon() -> None:
    moved = timed_acts()[0]
    assert isinstance(moved, PourEnd)
    assert moved.happened is not None
    assert moved.happened.timestamp() * 1000 == REAL[LATE] == ENTERED[LATE] + 3 * HOUR_MS
    assert 24.0 <= counted_h(LATE, ENTERED[LATE], moved.at_ms) < 27.0
    assert counted_h(LATE, REAL[LATE], moved.at_ms) < 23.5
    assert counted_h(LATE, REAL[LATE], tuesday(15)) >= 24.0


def test_the_front_stops_3_b1_short_of_its_24_hours_until_wednesday_noon() -> None:
    at_night, in_the_morning = (counted_h(DELAYED, REAL[DELAYED], tuesday(h)) for h in (20, 34))
    assert at_night == in_the_morning
    assert 23.0 < at_night < 23.75
    assert counted_h(DELAYED, REAL[DELAYED], tuesday(24 + 12)) < 24.0
    assert counted_h(DELAYED, REAL[DELAYED], tuesday(24 + 15)) >= 24.5


@pytest.mark.parametrize("bay", FLOOR_3[1:])
def test_the_youngest_bays_do_not_get_their_24_hours_in_the_demo(bay: BayId) -> None:
    assert counted_h(bay, REAL[bay], CLOSE_MS) < 23.0


@pytest.mark.parametrize("bay", FLOOR_2)
def test_the_second_floor_is_strong_before_it_gets_cold(bay: BayId) -> None:
    assert coldest_c(bay, ENTERED[bay], tuesday(13)) > 5.0
    assert true_strength_mpa(bay, tuesday(12)) > 7.0


@pytest.mark.parametrize("bay", sorted(ENTERED))
def test_nothing_freezes_before_it_has_twice_the_strength_that_makes_freezing_harmless(bay: BayId) -> None:
    top = {s.id for s in site().bay_named(bay).sensors if s.zone is Zone.TOP}
    start = next(s.start_ms for s in SLABS if s.bay == bay)
    strong = next(at for at in range(start, CLOSE_MS, HOUR_MS // 4) if true_strength_mpa(bay, at) >= 7.0)
    for sensor, rows in concrete(bay).items():
        limit_c = 1.0 if sensor in top else 0.5
        assert min(r.milli_c for r in rows if start < r.taken_ms <= strong) > limit_c * 1000 + 250


def test_one_logger_lies_in_the_air_of_a_bay_without_a_top_sensor_and_gives_a_false_alarm() -> None:
    assert not [s for s in site().bay_named(AIR).sensors if s.zone is Zone.TOP]
    (sensor,) = IN_AIR
    rows = concrete(AIR)
    assert sensor in rows
    coldest = min(r.milli_c for r in rows[sensor])
    assert 1_000 < coldest <= 2_900
    others = [r.milli_c for name, found in rows.items() if name != sensor for r in found if r.taken_ms > REAL[AIR]]
    assert min(others) > 3_000
    first = next(r.taken_ms for r in rows[sensor] if r.milli_c <= 3_000)
    assert tuesday(21) < first < tuesday(27)
    assert true_strength_mpa(AIR, first) < 3.5


@pytest.mark.parametrize("bay", sorted(ENTERED))
def test_every_bay_reaches_the_strength_to_strip_before_the_demo_ends(bay: BayId) -> None:
    assert true_strength_mpa(bay, CLOSE_MS) > 7.0


def test_the_opening_acts_enter_a_start_and_an_end_of_every_pour_4_to_31_hours_back() -> None:
    acts = opening_acts()
    assert [type(a) for a in acts] == [*[PourStart, PourEnd] * 6, Want]
    assert all(a.scripted for a in acts)
    assert all(4 <= (OPEN_MS - end) / HOUR_MS <= 31 for end in ENTERED.values())
