"""Other software reads the loggers a page at a time, checks one, and places and takes out a sensor."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from api_support import V1, Office, office

from shared.models.acts import instant
from shared.models.base import SensorId
from shared.models.readings import Reason, Refused


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("own")) as found:
        yield found


def test_the_list_goes_on_by_name_and_reads_values_of_its_page_alone(
    own: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    every = own.read("loggers", limit=1000)
    assert every["next"] is None
    names = [one["name"] for one in every["items"]]
    assert (names, len(names) > 2) == (sorted(set(names)), True)
    read: list[SensorId] = []
    beside = own.parts.parts.beside
    newest = beside.newest

    def noted(sensors: Any) -> Any:
        read.extend(sensors)
        return newest(sensors)

    monkeypatch.setattr(type(beside), "newest", property(lambda _: noted))
    found: list[Any] = []
    cursor: dict[str, str] = {}
    while True:
        page = own.read("loggers", limit=2, **cursor)
        assert [str(name) for name in read[-len(page["items"]) :]] == [one["name"] for one in page["items"]]
        found += page["items"]
        if page["next"] is None:
            break
        cursor = {"cursor": page["next"]}
    assert found == every["items"]
    assert len(read) == len(names)
    assert own.ask("GET", f"{V1}/loggers?cursor=c5", own.token("read")).status_code == 422


def test_one_logger_is_checked_and_feels_a_hand_or_not(own: Office) -> None:
    told = own.read("loggers/lg-01")
    assert [one["name"] for one in told["sensors"]] == ["lg-01.1", "lg-01.2"]
    assert told["sensors"][0]["temperature_c"] == 18.0
    assert {one["sensor"] for one in told["checked"]} == {"lg-01.1", "lg-01.2"}
    assert {check["name"] for check in told["checked"][0]["checks"]} >= {"place", "alive", "clock"}
    assert told["missing"] == []
    since = instant(own.clock.now()).isoformat()
    assert own.read("loggers/lg-01", held="lg-01.1", since=since)["hand"]["found"] == "NOT YET"
    for path, status in (
        ("loggers/lg-77", 404),
        (f"loggers/lg-01?held=lg-09.1&since={since.replace('+', '%2B')}", 422),
    ):
        assert own.ask("GET", f"{V1}/{path}", own.token("read")).status_code == status


def test_a_sensor_is_placed_and_taken_out_and_nobody_speaks_for_a_second_person(own: Office) -> None:
    placed = own.do("acts/place-sensor", {"sensor": "lg-44.1", "bay": "2-b2", "zone": "interior", "depth_mm": 60})
    assert placed.status_code == 200, placed.text
    [one] = own.read("loggers/lg-44")["sensors"]
    assert (one["bay"], one["zone"], one["depth_mm"], one["standing"]) == ("2-b2", "interior", 60, "never heard")
    required = {"sensor": "lg-01.1", "why": "gone"}
    assert own.do("acts/remove-sensor", {**required, "second_person": "qc-one"}).status_code == 422
    alone = own.do("acts/remove-sensor", required)
    assert (alone.status_code, "second person" in alone.json()["detail"]) == (409, True)


def test_what_stands_refused_is_read_and_screened_again(own: Office) -> None:
    now = own.clock.now()
    refused = [Refused(now, "shed/lg-01/1", b"18 \xff F", Reason.UNIT, "F", SensorId("lg-01.1"))]
    own.service.book.ingest.note([], refused, [], [])
    told = own.read("refusals")
    assert told["standing"] == len(told["items"]) == 1
    assert (told["items"][0]["reason"], told["items"][0]["begins"]) == ("unit", "18 \\xff F")
    assert own.do("acts/screen-again", {"sensor": "lg-01.1", "why": "unit mended"}).status_code == 200
