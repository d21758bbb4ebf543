"""Each list at its hour, once a day, over restarts and both nights when the clocks change."""

from __future__ import annotations

import pytest
from days_support import LISTS, Air, Rows, at, days_of, lists_of, run_through, shown_row, site_with

from cure.days import Days, occasions
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, THE_SITE, LoggerId, Ms
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, URGENT, MessageKind
from shared.shifts import hour_of

MORNING, COVER, HANDOVER = LISTS
FIVE = at("2026-11-24T05:00-04:00")
MORNING_MS, COVER_MS, HANDOVER_MS = (at(f"2026-11-24T{h}-04:00") for h in ("06:15", "14:00", "17:00"))


def with_a_pour() -> Rows:
    return Rows(rows=[shown_row(strip=GateState.RELEASED, start_ms=FIVE - 12 * HOUR_MS)])


def service(rows: Rows, now_ms: Ms) -> tuple[Days, SimulatedClock]:
    clock = SimulatedClock(now_ms)
    return days_of(rows, clock), clock


def test_each_list_is_written_at_its_hour_of_the_site_s_day() -> None:
    rows = with_a_pour()
    days, clock = service(rows, FIVE)
    for hour_ms, kind in ((MORNING_MS, MORNING), (COVER_MS, COVER), (HANDOVER_MS, HANDOVER)):
        clock.set(hour_ms - 1)
        assert days.run_due() == 0
        clock.set(hour_ms)
        assert days.run_due() == 1
        assert days.run_due() == 0
        told = rows.told[-1]
        assert (told.kind, told.subject, told.pour, told.at_ms) == (kind, "2026-11-24", THE_SITE, hour_ms)
        assert told.valid_until_ms is None
        assert {told.facts[k] for k in ("floor", "bay", "operation", "pour")} == {""}
        assert {k: told.facts[k] for k in ("site", "site_id", "zone", "units", "hour_ms")} == {
            "site": "Millrace House",
            "site_id": "millrace",
            "zone": "America/Halifax",
            "units": "SI",
            "hour_ms": hour_ms,
        }


def test_the_hours_are_settings_of_the_site() -> None:
    rows = Rows(site_with(morning="05:30", cover_list="12:00", shift="05:00-13:00"), with_a_pour().rows)
    days, clock = service(rows, FIVE)
    for hour, kind in (("05:30", MORNING), ("12:00", COVER), ("13:00", HANDOVER)):
        clock.set(at(f"2026-11-24T{hour}-04:00"))
        assert days.run_due() == 1
        assert rows.told[-1].kind is kind


def test_the_morning_list_goes_out_also_when_it_is_empty_and_the_others_do_not() -> None:
    rows = Rows()
    run_through(rows, FIVE, FIVE + 3 * DAY_MS)
    assert rows.kinds() == [(MORNING, f"2026-11-{day}") for day in (24, 25, 26)]


@pytest.mark.parametrize(("hour", "written"), [("11:59", 1), ("12:00", 0)])
def test_a_service_that_was_away_sends_the_morning_list_within_the_morning(hour: str, written: int) -> None:
    days, _ = service(Rows(), at(f"2026-11-24T{hour}-04:00"))
    assert days.run_due() == written


def test_a_service_that_was_away_names_who_is_there_to_cover_until_the_shift_ends() -> None:
    rows = with_a_pour()
    days, _ = service(rows, at("2026-11-24T16:59-04:00"))
    assert days.run_due() == 1
    assert rows.told[0].facts["by_ms"] == HANDOVER_MS
    after, _ = service(Rows(rows=rows.rows), HANDOVER_MS)
    assert after.run_due() == 1  # the handover; nobody is there to cover any more


def test_a_list_that_comes_after_midnight_is_still_that_of_its_day() -> None:
    rows = Rows(site_with(shift="15:00-23:00"), with_a_pour().rows)
    days, _ = service(rows, at("2026-11-25T01:00-04:00"))
    assert days.run_due() == 1
    assert rows.kinds() == [(HANDOVER, "2026-11-24")]


@pytest.mark.row("C10", "J8")
@pytest.mark.parametrize(("from_day", "days"), [("2026-03-07", 3), ("2026-10-31", 3)])
@pytest.mark.parametrize("hour", ["01:15", "01:45", "02:00", "02:30", "03:00", "06:15"])
def test_a_day_has_one_list_of_a_kind_over_both_nights_when_the_clocks_change(
    from_day: str, days: int, hour: str
) -> None:
    offset = "-04:00" if from_day.startswith("2026-03") else "-03:00"
    end = {"01": "02", "02": "03", "03": "04", "06": "17"}[hour[:2]] + ":00"
    rows = Rows(site_with(morning=hour, shift=f"23:00-{end}"), with_a_pour().rows)
    run_through(rows, at(f"{from_day}T00:00{offset}"), at(f"{from_day}T00:00{offset}") + days * DAY_MS - 2 * HOUR_MS)
    assert len(rows.kinds()) == len(set(rows.kinds()))
    for kind in LISTS:
        assert len(lists_of(rows, kind)) == days


@pytest.mark.row("C10")
@pytest.mark.parametrize(
    ("day", "hour", "begins"),
    [
        ("2026-03-08", "01:59", "2026-03-08T01:59-04:00"),
        ("2026-03-08", "02:30", "2026-03-08T03:30-03:00"),  # there is no 02:30
        ("2026-03-08", "06:15", "2026-03-08T06:15-03:00"),
        ("2026-11-01", "01:30", "2026-11-01T01:30-03:00"),  # the first of two
        ("2026-11-01", "06:15", "2026-11-01T06:15-04:00"),
    ],
)
def test_the_hour_is_the_one_on_the_wall(day: str, hour: str, begins: str) -> None:
    site = site_with(morning=hour).site
    due = [o for o in occasions(at(f"{day}T12:00-04:00"), site) if (o.kind, o.day.isoformat()) == (MORNING, day)]
    assert [o.from_ms for o in due] == [at(begins)]
    assert hour_of(due[0].day, hour, "America/Halifax") == at(begins)


def test_a_service_that_keeps_starting_again_writes_nothing_twice() -> None:
    steady, shaken = with_a_pour(), with_a_pour()
    run_through(steady, FIVE, FIVE + 3 * DAY_MS)
    run_through(shaken, FIVE, FIVE + 3 * DAY_MS, restarts=True)
    assert shaken.kinds() == steady.kinds()
    assert len(steady.kinds()) == 9


def test_there_are_at_most_three_a_day() -> None:
    rows = with_a_pour()
    run_through(rows, FIVE, FIVE + 14 * DAY_MS, restarts=True)
    by_day = {day: [k for k, d in rows.kinds() if d == day] for _, day in rows.kinds()}
    assert len(by_day) == 14
    assert all(sorted(kinds) == sorted(LISTS) for kinds in by_day.values())


def test_between_its_hours_nothing_is_read() -> None:
    rows = with_a_pour()
    days, clock = service(rows, FIVE)
    days.run_due()
    for _ in range(60):
        clock.set(clock.now() + MINUTE_MS)
        days.run_due()
    assert rows.reads == 0
    clock.set(MORNING_MS)
    days.run_due()
    days.run_due()
    assert rows.reads == 1


def test_a_clock_that_was_put_back_leaves_no_day_without_its_list() -> None:
    rows = Rows()
    ahead = SimulatedClock(at("2026-12-24T05:00-04:00"))
    days = days_of(rows, ahead)
    days.run_due()
    days.clock = SimulatedClock(MORNING_MS)
    assert days.run_due() == 1
    assert rows.kinds() == [(MORNING, "2026-11-24")]


def test_a_store_that_fails_is_asked_again() -> None:
    rows = Rows(broken=True)
    days, _ = service(rows, MORNING_MS)
    with pytest.raises(StoreError):
        days.run_due()
    rows.broken = False
    assert days.run_due() == 1


def test_the_air_of_the_last_night_is_asked_for_and_only_of_bays_that_may_want_a_cover() -> None:
    rows, air = with_a_pour(), Air()
    days_of(rows, SimulatedClock(COVER_MS), air).run_due()
    evening, morning = at("2026-11-23T18:00-04:00"), at("2026-11-24T08:00-04:00")
    assert air.asked == [("lg-09.1", evening - 1, morning)]
    (told,) = lists_of(rows, COVER)
    assert told.facts["bays"][0]["expected_low_c"] == 3.0


@pytest.mark.row("A20")
def test_a_list_permits_nothing_and_wakes_nobody() -> None:
    assert not set(LISTS) & PERMITS
    assert not set(LISTS) & URGENT
    assert MessageKind.COLD_DELAY not in PERMITS | URGENT


@pytest.mark.row("L18")
def test_low_batteries_are_told_in_the_morning_together_and_again_the_next_day() -> None:
    rows = Rows(
        percents={LoggerId("lg-01"): 20.0, LoggerId("lg-02"): 9.6, LoggerId("lg-09"): 20.1, LoggerId("lg-77"): 1.0}
    )
    run_through(rows, FIVE, FIVE + 2 * DAY_MS)
    found = lists_of(rows, MessageKind.LOW_BATTERY)
    assert [m.subject for m in found] == ["2026-11-24", "2026-11-25"]
    assert found[0].at_ms == MORNING_MS
    assert found[0].facts["loggers"] == [{"logger": "lg-02", "percent": 9.6}, {"logger": "lg-01", "percent": 20.0}]


@pytest.mark.row("L18")
@pytest.mark.parametrize("percent", [None, 20.1, 100.0])
def test_a_battery_that_is_full_or_not_told_of_is_no_message(percent: float | None) -> None:
    rows = Rows(percents={LoggerId("lg-01"): percent})
    run_through(rows, FIVE, FIVE + DAY_MS)
    assert lists_of(rows, MessageKind.LOW_BATTERY) == []
