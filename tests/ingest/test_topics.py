from __future__ import annotations

from typing import Final

import pytest
from ingest_support import SITE, TOPIC
from payloads_support import SAMPLES

from ingest.payloads import FORMATS
from ingest.payloads.decoded import Told
from ingest.topics import routes
from shared.models.base import LoggerId
from shared.models.payloads import SenmlTopic

ROUTES: Final = dict(zip(SAMPLES, routes(SITE, [sample.topic for sample in SAMPLES.values()]), strict=True))


def test_a_site_that_lists_no_topics_reads_senml_json_on_its_own() -> None:
    (route,) = routes(SITE, ())
    assert (route.subscription, route.qos) == (f"slabhour/{SITE}/r/+", 1)
    assert route.told(TOPIC) == Told(LoggerId("lg-01"))
    assert route.decoder is FORMATS["senml+json"].make(
        SenmlTopic(filter=f"slabhour/{SITE}/r/{{logger}}", format="senml+json")
    )


def test_a_topic_tells_what_its_filter_asks_for() -> None:
    assert ROUTES["text"].told("board/lg-01/2") == Told(LoggerId("lg-01"), "2")
    assert ROUTES["json"].told("application/17/device/00a1b2c3d4e5f601/event/up") == Told(LoggerId("00a1b2c3d4e5f601"))
    assert ROUTES["json"].subscription == "application/+/device/+/event/up"


@pytest.mark.row("M7")
@pytest.mark.parametrize(
    "topic",
    ["board/lg-01", "board/lg-01/2/3", "board/LG-01/2", "board/lg-01/x", "board/lg-01/100", "board//2", "board/+/2",
     "board/lg-01/2\n", "board/lg-01/\u0662", "xboard/lg-01/2", "/board/lg-01/2"],
)  # fmt: skip
def test_another_topic_is_of_no_route(topic: str) -> None:
    assert [name for name, route in ROUTES.items() if route.told(topic) is not None] == []


def test_a_dot_in_a_filter_is_a_dot() -> None:
    (route,) = routes(SITE, [SenmlTopic(filter="a.b/{logger}", format="senml+json")])
    assert route.told("a.b/x") is not None
    assert route.told("axb/x") is None


@pytest.mark.row("R3")
def test_what_has_no_hour_of_its_own_is_not_kept_by_a_broker_for_a_service_that_is_away() -> None:
    assert {name: route.qos for name, route in ROUTES.items()} == {
        "senml+json": 1,
        "senml+cbor": 1,
        "json": 1,
        "text": 0,
    }
