"""One answer for command, page and interface."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from planner_support import MONDAY_MS, answering, weather

from cure.forecast import HORIZON_H, Weather
from cure.plan_answer import Ground, Planned, answer
from cure.plan_request import read
from cure.plan_sets import NOTHING_KNOWN
from cure.planner import Found, Protection, Tried
from cure.turnaround import Chain
from shared.errors import PlanError
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.sitefile import load

SETUP = load(Path(__file__).parents[2] / "deploy" / "demo" / "site.toml")
HEAT = {"cement": "I", "binder_kg": 360, "water_binder": 0.5}


def at(hours: float) -> str:
    return datetime.fromtimestamp((MONDAY_MS + hours * HOUR_MS) / 1000, UTC).isoformat()


def no_weather(_: tuple[Ms, Ms]) -> Weather:
    raise PlanError("none is held")


def asked(held: Callable[[tuple[Ms, Ms]], Weather] = no_weather, **said: Any) -> Planned:
    ground = Ground(SETUP, lambda _: (), held, lambda: NOTHING_KNOWN, MONDAY_MS, 4)
    days = {"low_c": 10, "high_c": 16} if held is no_weather else {}
    return answer(read({"bay": "2-b1", "start": at(0), **HEAT, **days, **said}), ground)


@pytest.fixture(autouse=True)
def answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answer at once: a pour is ready a day after its end under a cover, and long after without."""
    told = answering(lambda work: [24.0] if work.covers else [60.0])
    monkeypatch.setattr(Ground, "foresee", property(lambda _: told))


def test_a_case_counts_all_that_is_told_and_nothing_else() -> None:
    told = asked(cover_r=0.35, cover_on_h=4, cover_for_h=20, below_c=12, below_for_h=30, wanted=at(40), chance=0.7)
    assert isinstance(told.what, Tried)
    assert told.what.protection == Protection(0.35, 4.0, 20.0, 12.0, 30.0)
    assert (told.what.wanted_chance, told.what.wanted_ms) == (0.7, MONDAY_MS + 40 * HOUR_MS)
    assert (told.shown, told.alike) == (told.what, True)
    assert told.what.work.heated[0].to_ms - told.what.work.heated[0].from_ms == 30 * HOUR_MS
    ash = asked(fly_ash=0.3).what
    assert isinstance(ash, Tried)
    assert ash.work.hydration != told.what.work.hydration


def test_the_searches_and_the_sequence_are_of_the_same_case() -> None:
    least = asked(least={"covers": [0.5], "heatings": []}, cover_on_h=5, wanted=at(30)).what
    assert isinstance(least, Found)
    assert [one.protection for one in least.tried] == [Protection(), Protection(0.5, 5.0, 12.0)]
    assert least.best is least.tried[1]
    window = asked(window={"until": at(14), "every_h": 2}).what
    assert isinstance(window, Found)
    # From 8:00 on; the shift ends at 17:00.
    assert [(one.start_ms - MONDAY_MS) // HOUR_MS for one in window.tried] == [0, 2, 4, 6, 8]
    with pytest.raises(PlanError, match="nobody is at work"):
        asked(start=at(12), window={"until": at(14)})
    told = asked(sequence={"then": [{"bay": "2-b2", "start": at(24)}], "sets": [{"name": "A"}, {"name": "B"}]})
    assert isinstance(told.what, Chain)
    assert [(turn.bay, turn.form_set) for turn in told.what.turns] == [("2-b1", "A"), ("2-b2", "B")]
    assert told.shown is None


def test_the_weather_is_asked_of_the_site_for_all_hours_that_may_count() -> None:
    seen: list[tuple[Ms, Ms]] = []

    def held(hours: tuple[Ms, Ms]) -> Weather:
        seen.append(hours)
        return weather(10.0, 16.0, 600)

    assert not asked(held).alike
    asked(held, window={"until": at(3)})
    asked(held, sequence={"then": [{"bay": "2-b2", "start": at(24)}]})
    ends = [(last - MONDAY_MS) // HOUR_MS for _, last in seen]
    assert ends == [HORIZON_H + 25, HORIZON_H + 28, 2 * HORIZON_H + 49]
    assert {first for first, _ in seen} == {MONDAY_MS}


@pytest.mark.parametrize(
    "far",
    [
        {"start": at(24 * 400)},
        {"wanted": "9999-12-31T23:00:00-12:00"},
        {"window": {"until": at(24 * 400)}},
        {"sequence": {"then": [{"bay": "2-b2", "start": "0001-01-01T00:00:00+14:00"}]}},
        {"sequence": {"then": [{"bay": "2-b2", "start": at(24)}], "sets": [{"name": "A", "free": at(24 * 400)}]}},
    ],
)
def test_hours_that_are_far_away_are_refused(far: dict[str, Any]) -> None:
    with pytest.raises(PlanError, match="within a year"):
        asked(**far)


def test_nothing_is_answered_without_weather() -> None:
    with pytest.raises(PlanError, match="none is held"):
        answer(
            read({"bay": "2-b1", "start": at(0), **HEAT}),
            Ground(SETUP, lambda _: (), no_weather, lambda: NOTHING_KNOWN, MONDAY_MS - DAY_MS, 4),
        )
