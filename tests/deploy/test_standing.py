from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cure_support import site_of_all
from service_support import HostClock, MemoryServiceBook
from store_support import T0, make_setup

from cure.rounds import StoreTrouble
from deploy.anchors import Anchors
from deploy.standing import ROUNDS, SelfCheck
from shared.errors import ActRefusedError, StoreError
from shared.models.acts import Resume, act_from, instant
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, THE_SITE, Ms, SensorId
from shared.models.decisions import DoubtKind
from shared.models.messages import MessageKind
from shared.models.readings import Series
from shared.ports import Readings


class SomeReadings:
    """A store of readings that answers, or not."""

    down = False

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series | None:
        if self.down:
            raise StoreError(f"no {sensor} of {after}..{through}")
        return None


class Kept:
    """A self check over a book in memory, its clock and its stores at hand."""

    def __init__(self, folder: Path, *, required: bool = False) -> None:
        site = site_of_all()
        sync = site.site.model_copy(update={"clock_sync": "required" if required else "not-checked"})
        self.setup = make_setup(site.model_copy(update={"site": sync}))
        self.clock = HostClock(T0)
        self.book = MemoryServiceBook()
        self.readings = SomeReadings()
        self.trouble = StoreTrouble()
        self.anchors = Anchors(folder / "anchors.jsonl")
        self.check = self.started()

    def started(self) -> SelfCheck:
        readings: Readings = self.readings  # type: ignore[assignment]  # asked whether it answers, no more
        check = SelfCheck(self.setup, self.clock, self.book, readings, self.trouble, self.anchors)
        check.begin()
        return check

    def run(self, ms: int, every_ms: int = 1000) -> None:
        for _ in range(0, ms, every_ms):
            self.clock.pass_(every_ms)
            self.check.look()

    def set(self, offset_ms: int) -> None:
        self.clock.offset_ms = offset_ms
        self.check.look()

    def resume(self, doubt: str, who: str = "engineer") -> None:
        at = instant(self.clock.now())
        act: Any = act_from({"kind": "resume", "at": at, "who": who, "doubt": doubt, "why": "looked at"})
        assert isinstance(act, Resume)
        self.check.resume(act)

    def doubts(self) -> list[str]:
        return [d.reason for d in self.book.doubts()]


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return Kept(tmp_path)


@pytest.mark.row("C6")
def test_a_jump_is_told_to_the_site_once_and_ends_by_a_person_only_where_nobody_checks_the_clock(kept: Kept) -> None:
    kept.run(MINUTE_MS)
    kept.set(10 * DAY_MS)
    assert kept.doubts() == ["the service's clock jumped ahead by 10.0 days"]
    kept.set(0)
    kept.run(HOUR_MS, 10_000)
    assert len(kept.doubts()) == 1
    (told,) = kept.book.told
    assert (told.kind, told.pour, told.subject) == (MessageKind.IN_DOUBT, THE_SITE, "clock")
    assert {"reason", "how", "site", "zone"} <= set(told.facts)
    kept.resume("clock", "qc")
    assert kept.doubts() == []
    assert [a.kind for a in kept.book.acts] == ["resume"]


@pytest.mark.row("C6")
def test_a_jump_ends_by_itself_after_ten_minutes_of_a_synchronised_clock(tmp_path: Path) -> None:
    kept = Kept(tmp_path, required=True)
    kept.run(MINUTE_MS)
    kept.set(-2 * HOUR_MS)
    kept.run(HOUR_MS, 10_000)
    assert len(kept.doubts()) == 1
    kept.set(0)
    kept.run(9 * MINUTE_MS, 10_000)
    assert len(kept.doubts()) == 1
    kept.run(2 * MINUTE_MS, 10_000)
    assert kept.doubts() == []


def test_the_doubt_is_stored_before_the_clock_that_tells_of_it(kept: Kept) -> None:
    kept.book.steps.clear()
    kept.set(HOUR_MS)
    assert kept.book.steps == ["doubt clock", "clock"]


def test_a_jump_that_could_not_be_written_down_is_found_again(kept: Kept) -> None:
    kept.book.down = True
    with pytest.raises(StoreError):
        kept.set(HOUR_MS)
    kept.book.down = False
    kept.run(1000)
    assert kept.doubts() == ["the service's clock jumped ahead by 60.0 min"]


def test_a_jump_between_two_runs_of_one_boot_is_found_at_the_start(kept: Kept) -> None:
    kept.run(MINUTE_MS)
    kept.check.end()
    kept.clock.pass_(HOUR_MS)
    kept.clock.offset_ms = DAY_MS
    kept.check = kept.started()
    assert kept.doubts() == ["the service's clock jumped ahead by 24.0 h"]


@pytest.mark.row("C8")
def test_a_clock_of_1970_is_in_doubt_and_cannot_be_resumed(kept: Kept) -> None:
    kept.clock.reboot(HOUR_MS, -T0)
    kept.check = kept.started()
    assert kept.doubts() == ["the service's clock says 1970"]
    with pytest.raises(ActRefusedError, match="1970"):
        kept.resume("clock")
    kept.set(0)
    kept.resume("clock")
    assert kept.doubts() == []


@pytest.mark.row("C9")
def test_a_day_without_synchronisation_is_told_and_an_hour_is_warned_of(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    kept = Kept(tmp_path, required=True)
    kept.clock.right = False
    kept.run(63 * MINUTE_MS, MINUTE_MS)
    assert "has not been synchronised for an hour" in caplog.text
    assert kept.doubts() == []
    kept.run(DAY_MS, MINUTE_MS)
    assert kept.doubts() == ["the service's clock has not been synchronised for a day"]
    with pytest.raises(ActRefusedError, match="synchronised for a day"):
        kept.resume("clock")
    kept.clock.right = True
    kept.run(12 * MINUTE_MS, MINUTE_MS)
    assert kept.doubts() == []


def test_where_nobody_checks_an_unsynchronised_clock_is_no_doubt(kept: Kept) -> None:
    kept.clock.right = False
    kept.run(2 * DAY_MS, HOUR_MS)
    assert kept.doubts() == []


def test_a_log_that_was_changed_is_in_doubt_before_anything_else(tmp_path: Path) -> None:
    kept = Kept(tmp_path)
    kept.book.wrong = "log line 3 is not as it was written"
    kept.book.steps.clear()
    kept.check = kept.started()
    assert kept.book.steps[0] == "doubt log"
    with pytest.raises(ActRefusedError, match="line 3"):
        kept.resume("log")
    kept.book.wrong = ""
    with pytest.raises(ActRefusedError, match="engineer"):
        kept.resume("log", "qc")
    kept.resume("log")
    assert kept.doubts() == []


@pytest.mark.row("S7")
def test_an_old_copy_of_the_book_does_not_hold_the_newest_anchor(kept: Kept) -> None:
    kept.book.lines += ["b" * 64, "c" * 64]
    kept.check.end()
    kept.book.lines = kept.book.lines[:1]
    kept.check = kept.started()
    assert kept.doubts() == ["anchor 3 is not in the log"]
    kept.book.lines += ["d" * 64, "e" * 64, "f" * 64]
    kept.check.end()
    assert kept.anchors.read() == ((3, "c" * 64),)
    with pytest.raises(ActRefusedError, match="new data folder"):
        kept.resume("log")


def test_anchors_are_written_every_ten_minutes_when_the_log_has_grown(kept: Kept) -> None:
    for _ in range(30):
        kept.run(MINUTE_MS, MINUTE_MS)
        kept.book.lines.append("b" * 64)
        kept.check.anchor()
    assert [seq for seq, _ in kept.anchors.read()] == [2, 12, 22]


def test_a_store_that_fails_round_after_round_is_in_doubt_until_it_answers(kept: Kept) -> None:
    kept.trouble.rounds, kept.trouble.said = ROUNDS - 1, "readings.db: disk I/O error"
    kept.check.look()
    assert kept.doubts() == []
    kept.trouble.rounds, kept.readings.down = ROUNDS, True
    kept.check.look()
    assert "disk I/O error" in kept.doubts()[0]
    with pytest.raises(ActRefusedError, match="the store is still in doubt"):
        kept.resume("store")
    kept.readings.down = False
    kept.resume("store")
    kept.check.look()
    assert kept.doubts() == []


@pytest.mark.row("S6")
def test_a_damaged_book_is_in_doubt(tmp_path: Path) -> None:
    kept = Kept(tmp_path)
    kept.book.damaged = "site.db: row 7 missing from index"
    assert not kept.check.verify()
    assert kept.doubts() == ["site.db: row 7 missing from index"]
    assert kept.check.verified_s() > 0


def test_a_doubt_that_nobody_has_cannot_be_ended(kept: Kept) -> None:
    with pytest.raises(ActRefusedError, match="no doubt about the clock"):
        kept.resume("clock")
    assert DoubtKind.CLOCK not in kept.book.open
