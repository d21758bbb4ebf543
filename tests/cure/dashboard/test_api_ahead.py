"""Other software reads what is expected, of pours in mind too, what is missing, and what was done on a day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from api_support import V1, Office, office

from cure.forecast import Weather
from cure.plan_weather import days_alike
from shared.models.acts import instant
from shared.models.base import HOUR_MS, MINUTE_MS, Ms


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as found:
        yield found


def test_the_days_ahead_tell_hours_of_what_waits_and_of_nothing_in_doubt(shared: Office) -> None:
    told = shared.read("days")
    assert told["said"] == "EXPECTED, NOT RELEASED"
    waiting = {(one["bay"], one["operation"]) for one in told["unknown"]}
    waiting |= {(one["bay"], one["operation"]) for day in told["days"] for one in day["items"]}
    assert waiting == {("2-b1", "load")}
    assert "releases nothing" in told["caution"]


def test_a_bay_says_what_it_lacks_before_its_pour(shared: Office) -> None:
    told = shared.read("ready")
    assert [bay["bay"] for bay in told["bays"]] == ["2-b2"]
    [bay] = told["bays"]
    lacks = {item["key"] for item in bay["items"] if not item["there"]}
    assert (bay["ready"], lacks >= {"heard", "covers", "ice-free"}) == (False, True)
    assert shared.read("ready", bay="2-b1")["bays"] == []


def test_the_diary_of_a_day_has_its_readings_decisions_and_deeds(shared: Office) -> None:
    day = shared.read("site")["now"][:10]
    first = (date.fromisoformat(day) - timedelta(days=1)).isoformat()
    told = shared.read("diary", day=first)
    assert (told["day"], told["whole"]) == (first, True)
    assert {deed["who"] for deed in told["deeds"]} >= {"super"}
    [measured] = told["measured"]
    assert measured["concrete"].startswith("18.0 °C")
    assert (shared.read("diary")["day"], shared.read("diary")["whole"]) == (day, False)
    for wrong in ("2999-01-01", "1969-12-31", "soon"):
        assert shared.ask("GET", f"{V1}/diary?day={wrong}", shared.token("read")).status_code == 422


def of_plan(o: Office, **said: Any) -> dict[str, Any]:
    """Return a query; what is None is left out."""
    start = instant(o.clock.now() + 20 * MINUTE_MS).isoformat()
    every = {"bay": "2-b1", "start": start, "binder_kg": 360, "low_c": 8, "high_c": 14, "cover_r": 0.35, **said}
    return {name: value for name, value in every.items() if value is not None}


def refused(o: Office, **said: Any) -> str:
    answer = o.ask("GET", f"{V1}/plan", o.token("read"), params=of_plan(o, **said))
    assert answer.status_code == 422, answer.text
    return str(answer.json()["detail"])


def test_a_plan_is_told_as_the_page_tells_it_expected_and_not_released(shared: Office) -> None:
    found = shared.read("plan", **of_plan(shared, wanted=instant(shared.clock.now() + 36 * HOUR_MS).isoformat()))
    assert found["said"] == "EXPECTED, NOT RELEASED"
    assert "releases nothing" in found["caution"]
    hours = found["expected"]["strip"]
    assert found["start"] < hours["p10"] <= hours["p50"] <= hours["p90"] < found["horizon"]
    assert 0.0 <= found["chance"] <= 1.0
    assert found["frost"] == 0.0
    assert sum(hours["waits_for"].values()) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"bay": "9-b9"}, "no bay '9-b9'"),
        ({"binder_kg": "nan"}, "binder_kg"),
        ({"low_c": 20}, "a high not below it"),
        ({"cement": "X"}, "cement"),
        ({"operation": "dance"}, "no hour can be foreseen"),
        ({"start": "9999-12-31T23:00:00Z"}, "within a year"),
        ({"low_c": None}, "high_c: low_c too, or neither"),
        ({"high_c": None}, "low_c: high_c too, or neither"),
        ({"low_c": None, "high_c": None, "wind_m_s": 9}, "wind_m_s: low_c too, or neither"),
        ({"binder_kg": None, "cement": "III", "water_binder": 0.4}, "cement: binder_kg too, or neither; water_binder"),
    ],
)
def test_what_no_pour_has_or_would_not_be_reckoned_with_is_refused(
    shared: Office, changed: dict[str, Any], said: str
) -> None:
    assert said in refused(shared, **changed)


def test_without_days_the_weather_is_the_sites_and_without_a_binder_the_heat_is_the_mixs(
    shared: Office,
) -> None:
    days = {"low_c": None, "high_c": None}
    assert "the site holds no weather for these hours" in refused(shared, **days)
    now = shared.clock.now()

    def held(hours: tuple[Ms, Ms]) -> Weather:
        return replace(days_alike(8.0, 14.0, 3.0, "America/Halifax", hours, now), source="met.csv", doubts=("late",))

    parts = shared.parts.parts
    kept = parts.beside
    object.__setattr__(parts, "beside", replace(kept, weather=held))
    try:
        found, alike = shared.read("plan", **of_plan(shared, **days)), shared.read("plan", **of_plan(shared))
        # The mix of this site says nothing of its heat.
        assert "mix c32-f has no heat data" in refused(shared, **days, binder_kg=None)
    finally:
        object.__setattr__(parts, "beside", kept)
    assert (found["weather"], found["notes"]) == ("met.csv", ["late"])
    assert alike["weather"] == "days alike, 8 to 14 degC"
    assert found["expected"] == alike["expected"]


def test_what_nobody_judges_any_more_has_no_hour(shared: Office) -> None:
    shared.clock.set(shared.clock.now() + 10 * HOUR_MS)
    assert shared.read("days")["days"] == []
