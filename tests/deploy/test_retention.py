"""What may be forgotten, and that nothing goes that is not told, archived if it is wanted, and ten years old."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from backup_support import EDGE, HISTORY, INSIDE, LATE, finish, left, little_setup, released_site, service_of, strip_of
from deploy_support import END_MS, POUR, act
from hypothesis import given
from hypothesis import strategies as st
from store_support import make_pour

from cure.seen import LOOK_BEFORE_MS
from deploy.backup import RETAINED
from deploy.replay import read_readings
from deploy.retention import YEAR_MS, Due, Retention, due
from deploy.wiring import Service
from shared.errors import StoreError
from shared.models.base import DAY_MS, HOUR_MS, Ms, PourId, SensorId
from shared.models.decisions import GateState
from shared.ports import PourRecord

YEARS = 10


def record(pour: str, start_ms: Ms, finished_ms: Ms | None, *sensors: SensorId) -> PourRecord:
    return PourRecord(make_pour(pour, start_ms=start_ms), frozenset(sensors or (EDGE,)), finished_ms)


@pytest.mark.row("S13")
def test_a_pour_that_is_not_finished_or_not_for_long_enough_keeps_every_reading() -> None:
    first = record("p1", 0, 10 * DAY_MS)
    limit = 10 * DAY_MS + YEARS * YEAR_MS
    assert due([first], limit - 1, YEARS) == []
    assert due([first], limit, YEARS) == [Due(EDGE, 10 * DAY_MS, (PourId("p1"),))]
    assert due([record("p1", 0, None)], 100 * YEAR_MS, YEARS) == []


@pytest.mark.row("S13")
def test_a_sensor_that_is_in_another_pour_keeps_what_that_one_is_judged_by() -> None:
    first, open_one = record("p1", 0, 10 * DAY_MS), record("p2", 9 * DAY_MS, None)
    (found,) = due([first, open_one], 100 * YEAR_MS, YEARS)
    assert found.before_ms == 9 * DAY_MS - LOOK_BEFORE_MS
    young = record("p2", 9 * DAY_MS, 100 * YEAR_MS)
    assert due([first, young], 100 * YEAR_MS, YEARS) == [found]
    assert due([first, record("p0", 0, None)], 100 * YEAR_MS, YEARS) == []
    assert due([first, record("p2", 9 * DAY_MS, None, INSIDE)], 100 * YEAR_MS, YEARS)[0].before_ms == 10 * DAY_MS


@given(
    st.lists(
        st.tuples(
            st.integers(0, 40), st.one_of(st.none(), st.integers(0, 40)), st.sets(st.sampled_from([EDGE, INSIDE]))
        ),
        max_size=6,
    ),
    st.integers(0, 60),
)
def test_nothing_of_a_pour_that_must_be_kept_is_ever_due(
    pours: Sequence[tuple[int, int | None, set[SensorId]]], now_years: int
) -> None:
    now = now_years * YEAR_MS
    records = [
        record(f"p{n}", start * YEAR_MS, None if after is None else (start + after) * YEAR_MS, *sensors)
        for n, (start, after, sensors) in enumerate(pours)
    ]
    for one in due(records, now, YEARS):
        assert one.before_ms <= now - YEARS * YEAR_MS
        for other in records:
            if one.sensor in other.sensors and (other.finished_ms is None or other.finished_ms > now - YEARS * YEAR_MS):
                assert one.before_ms <= other.pour.start_ms - LOOK_BEFORE_MS
                assert other.pour.id not in one.pours


def retention(service: Service, archive: Path | None = None) -> Retention:
    site = service.setup.site.site
    return Retention(service.readings, service.book.service, site.id, site.zone, YEARS, archive)


@pytest.mark.row("S13")
def test_a_finished_pour_is_archived_told_closed_and_forgotten_and_no_other(tmp_path: Path) -> None:
    setup = released_site(tmp_path)
    with service_of(setup, LATE) as (service, clock):
        assert strip_of(service) is not GateState.DONE
        assert retention(service).run(LATE) == 0, "it is released, not done"
        finish(service)
        service.apply(act("pour_start", LATE, bay="2-b2", pour="2-b2-p1"))
        assert retention(service).run(END_MS + HOUR_MS) == 0
        assert left(service) == len(HISTORY)
        changed = max(g.changed_ms for g in service.book.board.board()[0].gates.values())
        gone = retention(service, tmp_path / "archive").run(LATE)
        assert (gone, left(service)) == (len(HISTORY), 0)
        assert [row.pour.id for row in service.book.board.board()] == ["2-b2-p1"]
        log = [entry.body for _, entry in service.book.board.log_after(0) if entry.what == RETAINED]
        assert [(b["sensor"], b["readings"], b["pours"]) for b in log] == [
            (sensor, 26 * 4 + 1, [POUR]) for sensor in ("lg-01.1", "lg-01.2", "lg-09.1")
        ]
        assert all(b["before_ms"] <= max(changed, END_MS) for b in log)
        files = [tmp_path / "archive" / str(b["archive"]) for b in log]
        assert sorted(r for file in files for r in read_readings(file)) == sorted(HISTORY)
        assert retention(service, tmp_path / "archive").run(LATE) == 0
        clock.set(LATE + HOUR_MS)
        before = [m for m in service.book.board.messages() if m.pour == POUR]
        service.tick()
        assert [m for m in service.book.board.messages() if m.pour == POUR] == before, "it is ten years ago"
    with service_of(setup, LATE + 2 * HOUR_MS) as (service, _):
        assert service.self_check.verify()


@pytest.mark.row("S13")
def test_what_cannot_be_archived_whole_is_not_forgotten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with service_of(released_site(tmp_path), LATE) as (service, _):
        finish(service)
        (tmp_path / "file").write_text("")
        with pytest.raises(StoreError, match=r"cannot be archived .* none is forgotten"):
            retention(service, tmp_path / "file").run(LATE)

        def spoilt(path: Path, _columns: object, rows: Sequence[object], _zone: str) -> int:
            number = len(list(rows))
            path.write_text("sensor,taken_at,temperature_c,received_at,temperature_milli_c\n" + "a,b,c,d,e\n" * number)
            return number

        with monkeypatch.context() as patched:
            patched.setattr("deploy.retention.write_table", spoilt)
            with pytest.raises(StoreError, match="does not hold what was written"):
                retention(service, tmp_path / "archive").run(LATE)
        assert left(service) == len(HISTORY)
        assert not any(entry.what == RETAINED for _, entry in service.book.board.log_after(0))


def test_after_a_crash_amid_it_the_rest_goes_and_no_archive_is_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with service_of(released_site(tmp_path), LATE) as (service, _):
        finish(service)

        def crash(sensor: SensorId, before: Ms) -> int:
            del sensor, before
            raise StoreError("the disk went away")

        with monkeypatch.context() as patched:
            patched.setattr(service.readings, "forget", crash)
            with pytest.raises(StoreError):
                retention(service, tmp_path / "archive").run(LATE)
        assert left(service) == len(HISTORY)
        assert retention(service, tmp_path / "archive").run(LATE) == len(HISTORY)
        assert len(list((tmp_path / "archive").iterdir())) == 4


def test_a_pour_that_was_touched_since_is_judged_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with service_of(released_site(tmp_path), LATE) as (service, _):
        finish(service)
        stale = service.book.service.records()
        with service.book.writing() as connection:
            from sqlalchemy import text

            connection.execute(text("UPDATE gate SET state = 'withdrawn' WHERE operation = 'load'"))
        monkeypatch.setattr(service.book.service, "records", lambda: stale)
        assert retention(service).run(LATE) == 0
        assert left(service) == len(HISTORY)


def test_years_below_ten_are_no_setting(tmp_path: Path) -> None:
    from shared.errors import SetupError

    with pytest.raises(SetupError, match=r"retention\.years"):
        little_setup(tmp_path, **{"[[mix]]": "[retention]\nyears = 9\n[[mix]]"})
