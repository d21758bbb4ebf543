from __future__ import annotations

from ingest.strangers import Tally, stranger, tallies
from ingest.topics import routes
from shared.models.base import SensorId, SiteId
from shared.models.readings import Reason, Refused, RefusedCount, Stranger

ROUTES = routes(SiteId("millrace"), ())
TOPIC = "slabhour/millrace/r/lg-77"
PACK = (
    b'[{"bn":"lg-77.","bt":1764000000,"n":"1","u":"Cel","v":9.5},'
    b'{"n":"2","u":"Cel","v":8},{"n":"battery","u":"%EL","v":64}]'
)


def refused(sensor: str | None, topic: str = TOPIC, payload: bytes = PACK) -> Refused:
    name = None if sensor is None else SensorId(sensor)
    return Refused(1_764_000_001_000, topic, payload, Reason.UNKNOWN_SENSOR, "unknown", name)


def test_what_an_unplaced_sensor_says_is_read_from_its_refused_message() -> None:
    for sensor, milli_c in (("lg-77.1", 9_500), ("lg-77.2", 8_000)):
        said = stranger(ROUTES, refused(sensor))
        assert said == Stranger(sensor, 1_764_000_001_000, milli_c, battery_percent=64.0)


def test_a_logger_that_says_nothing_of_temperatures_goes_by_its_own_name() -> None:
    assert stranger(ROUTES, refused(None)).name == "lg-77"


def test_what_cannot_be_read_is_listed_all_the_same() -> None:
    assert stranger(ROUTES, refused("lg-77.1", payload=b"\xff")) == Stranger("lg-77.1", 1_764_000_001_000)
    assert stranger(ROUTES, refused("lg-77.1", topic="rows")) == Stranger("lg-77.1", 1_764_000_001_000)
    assert stranger(ROUTES, refused(None, topic="elsewhere")).name == "elsewhere"


def count(sensor: str | None, reason: Reason, n: int, topic: str = TOPIC) -> RefusedCount:
    return RefusedCount(topic, None if sensor is None else SensorId(sensor), reason, n)


def test_refusals_are_told_by_sensor_else_by_logger_and_all_together() -> None:
    found = tallies(
        ROUTES,
        [
            count("lg-77.1", Reason.UNKNOWN_SENSOR, 3),
            count("lg-77.1", Reason.RANGE, 4),
            count(None, Reason.NOT_JSON, 3),
            count(None, Reason.TOPIC, 5, topic="elsewhere"),
        ],
    )
    assert found == {
        "": Tally(15, Reason.TOPIC),
        "lg-77.1": Tally(7, Reason.RANGE),
        "lg-77": Tally(3, Reason.NOT_JSON),
        "elsewhere": Tally(5, Reason.TOPIC),
    }
    assert tallies(ROUTES, []) == {}
