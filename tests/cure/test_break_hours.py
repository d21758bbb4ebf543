"""At which hours a maturity is expected, and to which a laboratory moves it. Hours here are in Halifax, UTC-4."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.accumulate import Law
from cure.break_hours import (
    BREAKING_MS,
    NEVER_OPEN,
    STANDS_STILL,
    TOO_OLD,
    BreakHours,
    Ripening,
    Target,
    break_hours,
)
from shared.models.base import HOUR_MS, Ms
from shared.models.setup import LaboratorySettings

ZONE = "America/Halifax"
WEEK = ("mon", "tue", "wed", "thu", "fri")
LAB = LaboratorySettings.model_validate({"open": "08:00-17:00", "days": WEEK})
ROUND = LaboratorySettings.model_validate({"open": "08:00-17:00", "days": (*WEEK, "sat", "sun")})


def at(text: str) -> Ms:
    """Return an hour of November 2026; the 23rd is a Monday."""
    return round(datetime.fromisoformat(f"2026-11-{text}-04:00").timestamp() * 1000)


def steady(from_ms: Ms, age_h: float = 0.0) -> Ripening:
    """Return cylinders of which nobody doubts the temperature."""
    return Ripening(from_ms, age_h, 1.0, 1.0, 1.0)


def found(
    ripening: Ripening,
    age_h: float,
    lab: LaboratorySettings | None = LAB,
    tested: tuple[float, float] = (8.0, 700.0),
    now_ms: Ms | None = None,
) -> BreakHours:
    return break_hours(ripening, Target(age_h, *tested), lab, ZONE, ripening.from_ms if now_ms is None else now_ms)


def breaking(h: BreakHours) -> tuple[Ms | None, Ms | None]:
    return h.break_from_ms, h.break_to_ms


def test_at_20_degrees_the_hours_after_the_end_are_the_equivalent_age() -> None:
    h = found(Ripening.at(at("23T14:00"), 0.0, 20.0, Law()), 24.0)
    rate = Law().rate(np.array([18.0, 20.0, 22.0]))
    assert rate[1] == pytest.approx(1.0)
    assert h.expected_from_ms == pytest.approx(at("23T14:00") + 24.0 / rate[2] * HOUR_MS, abs=1)
    assert h.expected_to_ms == pytest.approx(at("23T14:00") + 24.0 / rate[0] * HOUR_MS, abs=1)
    assert (h.break_from_ms, h.break_to_ms, h.moved) == (h.expected_from_ms, h.expected_to_ms, False)
    assert h.age_from_h is not None
    assert h.age_to_h is not None
    assert h.age_from_h < 24.0 < h.age_to_h


def test_within_the_hours_a_certain_age_is_broken_in_the_hour_from_it_on() -> None:
    h = found(steady(at("23T14:00")), 24.0)
    assert (h.expected_from_ms, h.expected_to_ms) == (at("24T14:00"), at("24T14:00"))
    assert breaking(h) == (at("24T14:00"), at("24T15:00"))
    assert (h.age_from_h, h.age_to_h, h.moved) == (24.0, 25.0, False)


@pytest.mark.parametrize(
    ("ends", "age_h", "begins", "stops"),
    [
        # Expected at 03:00, five hours before the opening and ten after the closing.
        ("23T03:00", 24.0, "24T08:00", "24T09:00"),
        ("23T19:00", 24.0, "24T16:00", "24T17:00"),
        # A Friday evening: the Friday's last hour, not the Monday.
        ("26T20:00", 24.0, "27T16:00", "27T17:00"),
        # A Sunday: the Monday is nearer.
        ("28T20:00", 24.0, "30T08:00", "30T09:00"),
    ],
)
def test_a_window_outside_the_hours_moves_to_the_nearest_opening(
    ends: str, age_h: float, begins: str, stops: str
) -> None:
    h = found(steady(at(ends)), age_h)
    assert h.moved
    assert h.expected_from_ms == at(ends) + age_h * HOUR_MS
    assert breaking(h) == (at(begins), at(stops))
    assert h.age_from_h == pytest.approx((at(begins) - at(ends)) / HOUR_MS)


def test_a_window_that_begins_as_the_laboratory_shuts_is_moved() -> None:
    h = found(steady(at("23T14:00")), 27.0)
    assert (h.expected_from_ms, h.moved) == (at("24T17:00"), True)
    assert breaking(h) == (at("24T16:00"), at("24T17:00"))


def test_of_several_openings_in_a_wide_window_the_one_at_its_middle_is_taken() -> None:
    # Quickest on Monday at 15:30, as it is on Tuesday at 14:00, slowest on Wednesday at 20:00.
    h = found(Ripening(at("23T08:00"), 0.0, 0.5, 1.0, 4.0), 30.0, tested=(1.0, 700.0))
    assert breaking(h) == (at("24T08:00"), at("24T17:00"))
    assert not h.moved


def test_it_never_moves_to_where_the_maturity_may_be_below_the_tested_range() -> None:
    # Expected at 19:00, two hours after the closing: 22 h then, and 21 h an hour before.
    assert breaking(found(steady(at("23T19:00")), 24.0, tested=(21.0, 700.0))) == (at("24T16:00"), at("24T17:00"))
    later = found(steady(at("23T19:00")), 24.0, tested=(22.5, 700.0))
    assert breaking(later) == (at("25T08:00"), at("25T09:00"))
    assert later.age_from_h == 37.0


def test_it_never_moves_to_where_the_maturity_may_be_above_the_tested_range() -> None:
    assert breaking(found(steady(at("23T03:00")), 24.0, tested=(8.0, 30.0))) == (at("24T08:00"), at("24T09:00"))
    assert breaking(found(steady(at("23T03:00")), 24.0, tested=(8.0, 29.5))) == (at("23T16:00"), at("23T17:00"))
    assert found(steady(at("23T03:00")), 24.0, tested=(20.0, 29.5)).why == NEVER_OPEN


def test_an_hour_that_has_passed_is_not_named() -> None:
    late = found(steady(at("23T14:00")), 24.0, now_ms=at("24T15:20"))
    assert breaking(late) == (at("24T15:20"), at("24T16:20"))
    assert not late.moved
    # Less than an hour is left of that day.
    assert breaking(found(steady(at("23T14:00")), 24.0, now_ms=at("24T16:10"))) == (at("25T08:00"), at("25T09:00"))
    old = found(steady(at("23T14:00")), 24.0, tested=(8.0, 100.0), now_ms=at("29T14:00"))
    assert (breaking(old), old.why) == ((None, None), TOO_OLD)
    assert old.expected_from_ms == at("24T14:00")


def test_without_a_laboratory_it_is_the_window_itself() -> None:
    h = found(Ripening.at(at("23T03:00"), 0.0, 20.0, Law()), 24.0, None)
    assert breaking(h) == (h.expected_from_ms, h.expected_to_ms)
    assert not h.moved


def test_beside_the_slab_it_goes_on_from_what_is_there() -> None:
    law = Law()
    h = found(Ripening.at(at("24T09:00"), 10.0, 12.0, law), 14.0, None)
    warm, cold = (4.0 / float(law.rate(np.array([c]))[0]) for c in (14.0, 10.0))
    assert h.expected_from_ms == pytest.approx(at("24T09:00") + warm * HOUR_MS, abs=1)
    assert h.expected_to_ms == pytest.approx(at("24T09:00") + cold * HOUR_MS, abs=1)


def test_so_cold_that_it_may_not_ripen_no_hour_is_named() -> None:
    frozen = found(Ripening.at(at("24T09:00"), 10.0, 0.0, Law()), 14.0)
    assert (breaking(frozen), frozen.why) == ((None, None), STANDS_STILL)
    # 1.5 degC: 2 degC colder it stands still, but what is there is tested already.
    nearly = found(Ripening.at(at("24T09:00"), 10.0, 1.5, Law()), 10.5)
    assert nearly.expected_to_ms is None
    assert nearly.break_from_ms is not None
    # Not tested yet: it may never be.
    assert found(Ripening.at(at("24T09:00"), 7.0, 1.5, Law()), 10.5).why == STANDS_STILL


def test_a_target_that_is_there_already_is_broken_at_once() -> None:
    assert breaking(found(steady(at("24T09:00"), 30.0), 24.0)) == (at("24T09:00"), at("24T10:00"))


def test_an_unknown_age_names_no_hour() -> None:
    assert breaking(found(Ripening(at("24T09:00"), 10.0, math.nan, math.nan, math.nan), 24.0)) == (None, None)


CELSIUS = st.floats(-5.0, 35.0)


@given(
    st.integers(0, 14 * 24 * 4),
    st.floats(0.0, 60.0),
    CELSIUS,
    st.floats(8.0, 200.0),
    st.integers(-48, 400),
    st.sampled_from([LAB, ROUND, None, LaboratorySettings.model_validate({"open": "22:00-03:00", "days": ("sun",)})]),
)
def test_every_hour_named_is_open_ahead_long_enough_and_within_the_tested_range(
    quarter: int, age_h: float, celsius: float, target_h: float, now_quarters: int, lab: LaboratorySettings | None
) -> None:
    from_ms = at("20T00:00") + quarter * HOUR_MS // 4
    now_ms = from_ms + now_quarters * HOUR_MS // 4
    ripening = Ripening.at(from_ms, age_h, celsius, Law())
    h = break_hours(ripening, Target(target_h, 8.0, 200.0), lab, ZONE, now_ms)
    first, last = breaking(h)
    assert (first is None) is (last is None) is (h.why != "")
    if first is None or last is None:
        return
    assert now_ms <= first
    assert last - first >= BREAKING_MS
    # An oracle of its own: rates that hold all the way.
    slow, quick = (float(Law().rate(np.array([celsius + off]))[0]) for off in (-2.0, 2.0))
    assert age_h + slow * max(0, first - from_ms) / HOUR_MS >= 8.0 - 1e-9
    assert age_h + quick * max(0, last - from_ms) / HOUR_MS <= 200.0 + 1e-5
    if lab is not None:
        assert open_all_through(first, last, lab)


def open_all_through(first: Ms, last: Ms, lab: LaboratorySettings) -> bool:
    begin, end = (datetime.strptime(hour, "%H:%M").time() for hour in lab.open.split("-"))  # noqa: DTZ007
    place = ZoneInfo(ZONE)
    days = [datetime.fromtimestamp(first / 1000, place).date() - timedelta(days=n) for n in (0, 1)]
    for day in days:
        opens = datetime.combine(day, begin, place).timestamp() * 1000
        shuts = datetime.combine(day + timedelta(days=int(end <= begin)), end, place).timestamp() * 1000
        if f"{day:%a}".lower() in lab.days and opens <= first and last <= shuts:
            return True
    return False
