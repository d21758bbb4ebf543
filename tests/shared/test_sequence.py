from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from shared.models.base import LoggerId
from shared.models.readings import Heard
from shared.sequence import MOST_SPANS, RESTARTED_BELOW, STARTS_BEFORE, Followed, Start, came_before, followed

LG = LoggerId("lg-01")


def after(numbers: list[int | None], boot: str | None = "a") -> Followed | None:
    kept = None
    for number in numbers:
        kept = followed(kept, Heard(LG, 0, boot, number))
    return kept


def test_numbers_that_never_came_are_named() -> None:
    kept = after([5, 6, 9, 10, 12])
    assert kept == Followed(LG, "a", 12, ((7, 8), (11, 11)))
    assert kept.explain() == "lg-01: 3 messages never came since start 'a': 7 to 8, 11"
    assert Followed(LG, None, 9, ((7, 7),)).explain() == "lg-01: 1 message never came: 7"


def test_one_that_comes_late_or_again_is_no_gap() -> None:
    assert after([5, 9, 7, 9, 6, 8]) == Followed(LG, "a", 9)
    assert after([5, 9, 7]) == Followed(LG, "a", 9, ((6, 6), (8, 8)))


def test_a_logger_without_numbers_is_not_followed() -> None:
    assert after([None, None]) is None
    assert after([5, None, 6]) == Followed(LG, "a", 6)


def test_an_earlier_start_is_remembered_and_does_not_take_the_count_back() -> None:
    kept = followed(after([5, 9]), Heard(LG, 0, "b", 0))
    assert kept is not None
    assert kept.before == (Start("a", 5, 9, ((6, 8),)),)
    assert [came_before(kept, "a", n) for n in (4, 5, 7, 9, 10)] == [False, True, False, True, False]
    late = followed(followed(kept, Heard(LG, 0, "a", 7)), Heard(LG, 0, "a", 11))
    assert late == kept
    assert late.before == (Start("a", 5, 11, ((6, 6), (8, 8), (10, 10))),)
    for n in range(2 * STARTS_BEFORE):
        kept = followed(kept, Heard(LG, 0, f"c{n}", 0))
        assert kept is not None
    assert [start.boot for start in kept.before] == [
        f"c{n}" for n in range(2 * STARTS_BEFORE - 2, STARTS_BEFORE - 2, -1)
    ]
    assert not came_before(kept, "a", 5)


def test_a_start_begins_the_count_anew() -> None:
    kept = followed(after([5, 9]), Heard(LG, 0, "b", 0))
    assert kept == Followed(LG, "b", 0)
    assert after([9_000, 9_000 - RESTARTED_BELOW - 1], None) == Followed(LG, None, 9_000 - RESTARTED_BELOW - 1)
    assert after([9_000, 9_000 - RESTARTED_BELOW], None) == Followed(LG, None, 9_000)


def test_only_so_many_gaps_are_kept_and_the_newest() -> None:
    kept = after(list(range(0, 4 * MOST_SPANS, 2)))
    assert kept is not None
    assert len(kept.missing) == MOST_SPANS
    assert kept.missing[-1] == (4 * MOST_SPANS - 3, 4 * MOST_SPANS - 3)


@given(st.lists(st.integers(0, 60), min_size=1, max_size=80))
def test_what_is_missing_is_what_lies_between_and_has_not_come(numbers: list[int]) -> None:
    kept = after(list(numbers))
    assert kept is not None
    missing = {n for first, last in kept.missing for n in range(first, last + 1)}
    assert missing == set(range(numbers[0], max(numbers))) - set(numbers)
