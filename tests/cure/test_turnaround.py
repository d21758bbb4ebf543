"""Form sets over a sequence of bays."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from planner_support import JUDGED, MONDAY_MS, answering, pour, weather

from cure.forecast import Slabwork
from cure.planner import moved, start_of
from cure.turnaround import Next, Site, after_work, chain
from shared.models.base import DAY_MS, HOUR_MS, STRIP, BayId, Ms

ZONE = "America/Halifax"
TWO = Site(("A", "B"), 5.0, "07:00-17:00", ZONE)
MILD = weather(10.0, 16.0)


def pours(count: int, every_ms: Ms = DAY_MS, **sets: str) -> list[Next]:
    return [
        Next(
            BayId(f"b{n}"), moved(pour(MILD, name=f"b{n}"), MONDAY_MS + n * every_ms), JUDGED, STRIP, sets.get(f"b{n}")
        )
        for n in range(count)
    ]


def at(day: int, hour: float) -> Ms:
    """Monday 08:00 is the first concrete."""
    return MONDAY_MS + day * DAY_MS + round((hour - 8.0) * HOUR_MS)


def test_two_sets_carry_a_pour_a_day_where_bays_are_ready_by_the_clock() -> None:
    found = chain(pours(4), TWO, foresee=answering(lambda _: [24.0]))
    # Ready at 10:00 the day after; stripped, moved and set up by 15:00; the other set is used meanwhile.
    assert [(t.form_set, t.start_ms, t.free_ms) for t in found.turns] == [
        (name, at(n, 8.0), at(n + 1, 15.0)) for n, name in enumerate("ABAB")
    ]
    assert found.breaks_at is None
    assert found.short is None


def test_the_cold_breaks_the_chain_at_the_bay_whose_set_comes_late() -> None:
    def cold_on_tuesday(work: Slabwork) -> Sequence[float]:
        return [50.0] if work.pour == "b1" else [24.0]

    found = chain(pours(5), TWO, foresee=answering(cold_on_tuesday))
    # b1, Tuesday 08:00 to 10:00, is ready Thursday 12:00; five working hours: Thursday 17:00 is Friday 07:00. b2 has
    # set A on Wednesday, free Thursday 15:00: it carries b3, seven hours late; by the clock b3 had its set at 08:00.
    assert [t.start_ms for t in found.turns] == [at(0, 8), at(1, 8), at(2, 8), at(3, 15), at(4, 8)]
    assert [t.form_set for t in found.turns] == ["A", "B", "A", "A", "B"]
    assert found.breaks_at is found.turns[3]
    assert (found.turns[3].waits_h, found.turns[3].lost_to_cold_h) == (7.0, 7.0)
    assert found.short == "A"


def test_too_few_sets_are_short_without_any_cold() -> None:
    one = Site(("A",), 5.0, "07:00-17:00", ZONE)
    found = chain(pours(3), one, foresee=answering(lambda _: [24.0]))
    assert [t.start_ms for t in found.turns] == [at(0, 8), at(1, 15), at(3, 12)]
    assert found.breaks_at is None
    assert found.short == "A"


def test_a_bay_that_is_never_ready_ends_its_set_and_pours_keep_their_order() -> None:
    def never_first(work: Slabwork) -> Sequence[float]:
        return [math.inf] if work.pour == "b0" else [24.0]

    found = chain(pours(4, b0="A", b1="B", b2="A", b3="B"), TWO, foresee=answering(never_first))
    assert [t.start_ms for t in found.turns] == [at(0, 8), at(1, 8), None, None]
    assert found.breaks_at is found.turns[2]
    assert found.turns[2].waits_h is None
    assert found.short == "A"


def test_a_set_that_is_out_elsewhere_is_waited_for() -> None:
    busy = {"A": at(1, 9.0), "B": at(4, 9.0)}
    found = chain(pours(1), TWO, free_ms=busy, foresee=answering(lambda _: [24.0]))
    assert (found.turns[0].form_set, found.turns[0].start_ms) == ("A", at(1, 9.0))
    assert found.turns[0].lost_to_cold_h == 0.0
    assert start_of(pours(1)[0].work) == MONDAY_MS


@pytest.mark.parametrize(
    ("from_h", "hours", "to_h"),
    [(8, 3, 11), (6, 3, 10), (16, 3, 33), (17, 0, 31), (20, 1, 32), (8, 0, 8), (8, 29, 72 + 7)],
)
def test_work_goes_on_in_shifts_only(from_h: float, hours: float, to_h: float) -> None:
    assert after_work(at(0, from_h), hours, "07:00-17:00", ZONE) == at(0, to_h)


@pytest.mark.parametrize("wrong", [{"sets": ()}, {"turnaround_h": math.nan}, {"chance": 1.0}])
def test_a_yard_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="one set or more"):
        Site(**{"sets": ("A",), "turnaround_h": 5.0, "shift": "07:00-17:00", "zone": ZONE, **wrong})  # type: ignore[arg-type]
