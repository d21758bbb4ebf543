"""Other software reads what is expected, of pours in mind too, what is missing, and what was done on a day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

import pytest
from api_support import V1, Office, office
from planner_support import answering

from cure.dashboard import api_plan, planning
from cure.dashboard.plan_ground import ground_of
from cure.forecast import Weather
from cure.plan_answer import Ground
from cure.plan_weather import days_alike
from shared.errors import PlanError
from shared.models.acts import instant
from shared.models.base import HOUR_MS, MINUTE_MS, Ms


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as found:
        yield found


@pytest.fixture(autouse=True)
def few_members(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a plan be of few members: sooner, and of the same form."""
    monkeypatch.setattr(planning, "ground_of", partial(ground_of, members=8))


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
    heat = {"cement": "I", "binder_kg": 360, "water_binder": 0.5}
    every = {"bay": "2-b1", "start": start, **heat, "low_c": 8, "high_c": 14, "cover_r": 0.35, **said}
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
        ({"binder_kg": None}, "cement: binder_kg too, or neither; water_binder: binder_kg too, or neither"),
        ({"cover_r": 0, "cover_on_h": 3}, "cover_on_h: cover_r too, or neither"),
        ({"slag": 0.2, "binder_kg": None, "cement": None, "water_binder": None}, "slag: binder_kg too, or neither"),
        ({"mix": "c50"}, "no mix 'c50'"),
        ({"least": "{}"}, "least"),
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
        left = dict.fromkeys(("cement", "binder_kg", "water_binder"))
        assert "mix c32-f has no heat data" in refused(shared, **days, **left)
    finally:
        object.__setattr__(parts, "beside", kept)
    assert (found["weather"], found["notes"]) == ("met.csv", ["late"])
    assert alike["weather"] == "days alike, 8 to 14 degC"
    assert found["expected"] == alike["expected"]


def planned(o: Office, **said: Any) -> Any:
    answer = o.ask("POST", f"{V1}/plan", o.token("read"), json=of_plan(o, **said))
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert told["said"] == "EXPECTED, NOT RELEASED"
    assert "releases nothing" in told["caution"]
    return told


def test_in_an_address_or_a_body_one_case_is_answered_alike_and_all_of_it_counts(shared: Office) -> None:
    plain = shared.read("plan", **of_plan(shared))
    case = planned(shared, chance=0.8)["case"]
    assert {name: plain[name] for name in case} == case
    by = {"cover_on_h": 6, "cover_for_h": 12, "below_c": 15, "below_for_h": 24}
    other = planned(shared, mix="c32-f", needs_h=30, needs_c=5, needs_mpa=3.5, chance=0.9, **by)["case"]
    assert other["protection"] == {**by, "cover_m2_k_per_w": 0.35}
    # Thirty counted hours after two of placing.
    assert other["by_the_chance"] == other["expected"]["strip"]["p90"]
    start, ready = (datetime.fromisoformat(other[name]) for name in ("start", "by_the_chance"))
    assert ready - start >= timedelta(hours=32)
    assert case["by_the_chance"] < other["by_the_chance"]


def test_the_searches_are_asked_with_one_body_each(shared: Office) -> None:
    start = instant(shared.clock.now() + 20 * MINUTE_MS)
    wanted = (start + timedelta(hours=30)).isoformat()
    cold = {"low_c": -6, "high_c": 2, "cover_r": None, "wanted": wanted}
    least = planned(shared, **cold, least={"covers": [0.7], "heatings": [20]})["search"]
    assert least["tried"][0]["protection"]["cover_m2_k_per_w"] == 0.0
    assert (least["best"] is None, least["nearest"]["meets"]) == (False, True)
    assert all(not one["meets"] for one in least["tried"][:-1])
    until = (start + timedelta(hours=2)).isoformat()
    best = planned(shared, start=start.isoformat(), window={"until": until})["search"]
    assert [one["start"] for one in best["tried"]] == sorted({one["start"] for one in best["tried"]})
    assert best["best"]["start"] in {one["start"] for one in best["tried"]}


def test_form_sets_are_reckoned_from_where_they_are(shared: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    told = answering(lambda _: [24.0])
    monkeypatch.setattr(Ground, "foresee", property(lambda _: told))
    start = instant(shared.clock.now() + 20 * MINUTE_MS)
    then = {"then": [{"bay": "2-b2", "start": (start + timedelta(hours=24)).isoformat()}]}
    one = planned(shared, sequence=then)["sequence"]
    assert [pour["form_set"] for pour in one["pours"]] == ["A", "A"]
    assert one["notes"][0] == "no form set is on the site book: one is taken to be there, A"
    assert one["notes"][1] == "no forecast: days that are all alike"
    assert [pour["frost"] for pour in one["pours"]] == [0.0, 0.0]
    assert (one["cold_breaks_at"], one["short"]) == (None, "A")
    assert one["pours"][1]["late_h"]["cold"] == 0.0
    # The strip of 2-b1 is met: whoever takes its forms off needs a turnaround.
    assert shared.do("acts/form-set", {"form_set": "north", "bay": "2-b1"}).status_code == 200
    found = planned(shared, sequence={**then, "turnaround_h": 3})["sequence"]
    assert found["pours"][0]["form_set"] == "north"
    assert datetime.fromisoformat(found["pours"][0]["start"]) >= start + timedelta(hours=2.5)
    assert found["notes"][0].startswith("set north is in bay 2-b1, and expected to be free ")
    assert shared.do("acts/form-set", {"form_set": "north", "bay": "2-b1", "waits": "2-b2"}).status_code == 200
    told = planned(shared, sequence={**then, "sets": [{"name": "b", "free": start.isoformat()}, {"name": "north"}]})
    assert [pour["form_set"] for pour in told["sequence"]["pours"]] == ["b", "north"]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"least": {}}, "cover_r: beside least it would change nothing"),
        ({"window": {"until": "2026-11-01T08:00:00Z"}}, "a window ends after it begins"),
        ({"window": {"until": "2026-12-31T08:00:00Z", "every_h": 0.25}}, "at most 100 starts"),
        ({"sequence": {"then": []}}, "then"),
        ({"sequence": {"then": [{"bay": "9-b9", "start": "2026-11-26T12:00:00Z"}]}}, "no bay '9-b9'"),
        ({"colour": "grey"}, "colour"),
    ],
)
def test_a_search_that_cannot_be_is_refused(shared: Office, changed: dict[str, Any], said: str) -> None:
    answer = shared.ask("POST", f"{V1}/plan", shared.token("read"), json=of_plan(shared, **changed))
    assert answer.status_code == 422, answer.text
    assert said in answer.json()["detail"]


def test_two_plans_are_not_worked_out_at_once(shared: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    inner = {}

    def answered(*_: object) -> None:
        answer = shared.ask("POST", f"{V1}/plan", shared.token("read"), json=of_plan(shared))
        inner["said"] = answer.status_code, answer.headers["Retry-After"]
        raise PlanError("enough")

    monkeypatch.setattr(api_plan, "answered", answered)
    for _ in range(2):
        assert shared.ask("POST", f"{V1}/plan", shared.token("read"), json=of_plan(shared)).status_code == 422
        assert inner.pop("said") == (503, "10")


def test_what_nobody_judges_any_more_has_no_hour(shared: Office) -> None:
    shared.clock.set(shared.clock.now() + 10 * HOUR_MS)
    assert shared.read("days")["days"] == []
