"""Other software reads what is expected, what is missing, and what was done on a day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from api_support import V1, Office, office

from shared.models.base import HOUR_MS


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


def test_what_nobody_judges_any_more_has_no_hour(shared: Office) -> None:
    shared.clock.set(shared.clock.now() + 10 * HOUR_MS)
    assert shared.read("days")["days"] == []
