"""Form sets over a sequence of bays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import pytest
from planner_support import JUDGED, MONDAY_MS, answering, pour, weather

from cure.forecast import HORIZON_H, Slabwork, Span, Weather
from cure.plan_weather import in_warm_air
from cure.planned import Judged, foreseen
from cure.planner import moved, start_of
from cure.turnaround import WARM_C, Cause, Chain, Next, Site, Turn, after_work, chain
from shared.models.base import DAY_MS, HOUR_MS, STRIP, BayId, Ms
from shared.models.requirement import AllRule, StrengthRule

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


def is_warm(work: Slabwork) -> bool:
    """Return whether it is the same pour in air of 20 degC."""
    return float(work.weather.air_c.min()) == WARM_C


def causes(turn: Turn) -> dict[str, float]:
    """Return what makes a pour late, by its first word."""
    return {cause.value.split()[0]: hours for cause, hours in turn.late_h.items() if hours}


def test_two_sets_carry_a_pour_a_day_where_bays_are_ready_by_the_clock() -> None:
    found = chain(pours(4), TWO, foresee=answering(lambda _: [24.0]))
    # Ready at 10:00 the day after; stripped, moved and set up by 15:00; the other set is used meanwhile.
    assert [(t.form_set, t.start_ms, t.free_ms) for t in found.turns] == [
        (name, at(n, 8.0), at(n + 1, 15.0)) for n, name in enumerate("ABAB")
    ]
    assert found.breaks_at is None
    assert found.short is None
    assert {t.frost for t in found.turns} == {0.0}
    icy = chain(pours(2), TWO, foresee=answering(lambda _: [24.0], lambda work: 0.1 if is_warm(work) else 0.6))
    assert {t.frost for t in icy.turns} == {0.6}


def test_the_cold_breaks_the_chain_at_the_bay_whose_set_comes_late() -> None:
    def cold_on_tuesday(work: Slabwork) -> Sequence[float]:
        return [50.0] if work.pour == "b1" and not is_warm(work) else [24.0]

    found = chain(pours(5), TWO, foresee=answering(cold_on_tuesday))
    # b1, Tuesday 08:00 to 10:00, is ready Thursday 12:00; five working hours: Thursday 17:00 is Friday 07:00. b2 has
    # set A on Wednesday, free Thursday 15:00: it carries b3, seven hours late; by the clock b3 had its set at 08:00.
    assert [t.start_ms for t in found.turns] == [at(0, 8), at(1, 8), at(2, 8), at(3, 15), at(4, 8)]
    assert [t.form_set for t in found.turns] == ["A", "B", "A", "A", "B"]
    assert found.breaks_at is found.turns[3]
    assert (found.turns[3].waits_h, found.turns[3].lost_to_cold_h) == (7.0, 7.0)
    assert found.short == "A"


def test_what_is_as_slow_at_20_degrees_is_not_the_colds() -> None:
    one = Site(("A",), 5.0, "07:00-17:00", ZONE)
    found = chain(pours(2), one, foresee=answering(lambda _: [50.0]))
    # Ready on Wednesday at 12:00, and moved by Thursday at 7:00; by the clock on Tuesday at 15:00.
    assert causes(found.turns[1]) == {"sets": 7.0, "strength": 40.0}
    assert found.breaks_at is None
    assert found.first_late(Cause.STRENGTH) is found.turns[1]
    partly = chain(pours(2), one, foresee=answering(lambda work: [26.0 if is_warm(work) else 50.0]))
    # At 20 degC ready at 12:00, the day's last working hour is over: set up by Wednesday at 7:00.
    assert causes(partly.turns[1]) == {"sets": 7.0, "strength": 16.0, "cold": 24.0}
    assert partly.turns[1].waits_h == 47.0
    never = chain(pours(2), one, foresee=answering(lambda _: [math.inf]))
    assert causes(never.turns[1]) == {"sets": 7.0, "strength": math.inf}
    cold = chain(pours(2), one, foresee=answering(lambda work: [24.0 if is_warm(work) else math.inf]))
    assert (causes(cold.turns[1]), cold.breaks_at) == ({"sets": 7.0, "cold": math.inf}, cold.turns[1])


def test_the_heat_model_is_asked_at_20_degrees_too() -> None:
    def asked(over: Weather, judged: Judged) -> Chain:
        links = [Next(p.bay, replace(p.work, weather=over), judged, STRIP) for p in pours(2)]
        return chain(links, Site(("A",), 5.0, "07:00-17:00", ZONE), foresee=partial(foreseen, members=8))

    strong = replace(JUDGED, requirements={STRIP: AllRule(all=(StrengthRule(lower_bound_mpa=15.0),))})
    strict, cold = asked(weather(19.0, 21.0, 300), strong), asked(weather(-1.0, 5.0, 300), JUDGED)
    assert strict.turns[1].late_h[Cause.STRENGTH] >= 16.0
    assert strict.breaks_at is None
    assert cold.turns[1].late_h[Cause.STRENGTH] == 0.0
    assert cold.breaks_at is cold.turns[1]


def test_where_the_weather_ends_nobody_says_that_the_cold_breaks_it() -> None:
    links = [replace(p, work=replace(p.work, weather=weather(10.0, 16.0, 4))) for p in pours(2)]
    foresee = answering(lambda work: [24.0 if is_warm(work) else math.inf])
    found = chain(links, Site(("A",), 5.0, "07:00-17:00", ZONE), foresee=foresee)
    assert found.turns[0].ready_ms is None
    assert causes(found.turns[1]) == {"sets": 7.0, "weather": math.inf}
    assert found.breaks_at is None


def test_in_warm_air_nothing_else_is_warmer_and_heating_does_not_cool() -> None:
    work = pour(weather(-5.0, 1.0))
    by = replace(work, heated=(Span(work.placed_ms, work.end_ms, 5.0),))
    warm = in_warm_air(by, WARM_C)
    assert (warm.heated, warm.points, warm.spread) == ((), work.points, work.spread)
    assert warm.weather.hours_ms[-1] >= work.end_ms + HORIZON_H * HOUR_MS
    assert warm.weather.hours_ms[0] <= work.placed_ms
    assert float(warm.weather.air_sd_c.max()) == warm.weather.bias_sd_c == 0.0


def test_too_few_sets_are_short_without_any_cold() -> None:
    one = Site(("A",), 5.0, "07:00-17:00", ZONE)
    found = chain(pours(3), one, foresee=answering(lambda _: [24.0]))
    assert [t.start_ms for t in found.turns] == [at(0, 8), at(1, 15), at(3, 12)]
    assert found.breaks_at is None
    assert found.short == "A"


def test_a_bay_that_is_never_ready_ends_its_set_and_pours_keep_their_order() -> None:
    def never_first(work: Slabwork) -> Sequence[float]:
        return [math.inf] if work.pour == "b0" and not is_warm(work) else [24.0]

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
    assert causes(found.turns[0]) == {"sets": 25.0}
    lost = chain(pours(1), TWO, free_ms={"A": None, "B": None}, foresee=answering(lambda _: [24.0]))
    assert (lost.turns[0].start_ms, causes(lost.turns[0])) == (None, {"sets": math.inf})
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
