"""Who has taken a shift over: from two hours before the one before it ends."""

from __future__ import annotations

from pathlib import Path

import pytest
from days_support import at
from store_support import make_site, opened_book

from cure.taken_over import KIND, change, take_over
from shared.errors import ActRefusedError
from shared.models.acts import TakeOver, instant

ZONE, SHIFT = "America/Halifax", "06:30-17:00"


def taken(hour: str, who: str = "super") -> TakeOver:
    return TakeOver(at=instant(at(hour)), who=who, seen="0123456789ab")


@pytest.mark.parametrize(
    ("hour", "counts"),
    [
        ("2026-11-24T14:59-04:00", False),
        ("2026-11-24T15:00-04:00", True),
        ("2026-11-25T06:10-04:00", True),
        ("2026-11-25T11:00-04:00", True),
        ("2026-11-25T11:01-04:00", False),
    ],
)
def test_a_running_shift_is_taken_over_by_whoever_did_since_the_change(hour: str, counts: bool) -> None:
    found = change([taken(hour)], SHIFT, ZONE, at("2026-11-25T11:00-04:00"))
    assert (found.shift.begins_ms, found.shift.ends_ms) == (at("2026-11-25T06:30-04:00"), at("2026-11-25T17:00-04:00"))
    assert bool(found.taken) is counts


def test_in_the_evening_it_is_the_next_shift_and_round_the_clock_the_one_that_runs() -> None:
    evening = at("2026-11-25T18:00-04:00")
    found = change([taken("2026-11-25T06:10-04:00"), taken("2026-11-25T17:30-04:00")], SHIFT, ZONE, evening)
    assert found.shift.begins_ms == at("2026-11-26T06:30-04:00")
    assert [a.at_ms for a in found.taken] == [at("2026-11-25T17:30-04:00")]
    whole = change([taken("2026-11-24T21:00-04:00"), taken("2026-11-24T23:00-04:00")], "00:00-00:00", ZONE, evening)
    assert len(whole.taken) == 1


def test_it_is_written_down_and_only_by_whoever_works_there(tmp_path: Path) -> None:
    now, site = at("2026-11-25T06:40-04:00"), make_site()
    act = taken("2026-11-25T06:40-04:00")
    with opened_book(tmp_path) as book:
        before = len(book.board.log_after(0))
        take_over(site, book.cure, now, act)
        assert list(book.board.acts_of(KIND)) == [act]
        [(_, entry)] = book.board.log_after(0)[before:]
        assert (entry.what, entry.who, entry.body["kind"]) == ("act", "super", "take_over")
        with pytest.raises(ActRefusedError, match="nobody called"):
            take_over(site, book.cure, now, taken("2026-11-25T06:40-04:00", "stranger"))
