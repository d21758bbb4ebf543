"""What comes by HTTP goes the way of all messages, and is answered when it is durable."""

from __future__ import annotations

import asyncio
import gzip
import json
from collections.abc import AsyncIterator, Iterator
from typing import Any, Final

import cbor2
import pytest
from http_support import BOARD, CBOR, EUI, JSON, TEXT, UP, Way, open_way, said
from hypothesis import given, settings
from hypothesis import strategies as st
from ingest_support import EDGE, INSIDE, NOW, SITE, pack, warm
from payloads_support import SAMPLES, UPLINK
from web_support import ask

from ingest import http
from ingest.payloads import FORMATS
from shared.models.base import MINUTE_MS
from shared.models.readings import Reason


def test_every_format_comes_in_by_its_path_and_media_type() -> None:
    with open_way() as way:
        assert said(way.post(SAMPLES["senml+json"].payload)) == (200, 2, 0, 0)
        plain = "application/json; charset=utf-8"
        assert said(way.post(pack(warm(20.0, NOW - MINUTE_MS)), media=plain)) == (200, 1, 0, 0)
        cbor = cbor2.dumps([{0: "lg-01.1", 1: "Cel", 6: NOW / 1000 - 120, 2: 19.0}])
        assert said(way.post(cbor, media=CBOR)) == (200, 1, 0, 0)
        assert said(way.post(json.dumps(UPLINK).encode(), UP, media="application/json", by=EUI)) == (200, 0, 2, 0)
        assert said(way.post(b"21.5\r\n", BOARD, media=TEXT)) == (200, 0, 1, 0)
        assert said(way.post(SAMPLES["senml+json"].payload, f"/t/slabhour/{SITE}/r/lg-01")) == (200, 2, 0, 0)
        assert way.bench.book.refused() == []
        assert way.bench.readings.values() == {
            (EDGE, NOW): 20_500,
            (INSIDE, NOW - 15 * MINUTE_MS): 19_250,
            (EDGE, NOW - MINUTE_MS): 20_000,
            (EDGE, NOW - 2 * MINUTE_MS): 19_000,
        }


def test_every_format_says_what_its_messages_are_called() -> None:
    assert all(found.media for found in FORMATS.values())
    assert not set(FORMATS["senml+json"].media) & set(FORMATS["senml+cbor"].media)


def test_the_same_body_twice_is_stored_once_and_answered_alike() -> None:
    with open_way() as way:
        first, second = (way.post(pack(warm(20.0), warm(99.0, sensor=INSIDE))) for _ in range(2))
        assert first.json() == second.json()
        assert said(first) == (200, 1, 0, 1)
        assert (len(way.bench.readings.stored), len(way.bench.book.refused())) == (1, 1)
        assert way.bench.book.revision(EDGE) == 1


def test_what_is_refused_is_written_down_and_answered_so_that_it_does_not_come_again() -> None:
    with open_way() as way:
        answer = way.post(b"no JSON")
        assert said(answer) == (200, 0, 0, 1)
        (why,) = answer.json()["reasons"]
        assert why["reason"] == Reason.NOT_JSON.value
        (refused,) = way.bench.book.refused()
        assert (refused.topic, refused.payload, refused.reason) == ("/r/lg-01", b"no JSON", Reason.NOT_JSON)
        assert refused.detail == why["detail"]
        many = pack(*(warm(99.0, NOW - n * MINUTE_MS) for n in range(30)))
        answer = way.post(many)
        assert said(answer) == (200, 0, 0, 30)
        assert len(answer.json()["reasons"]) == http.MOST_REASONS


@pytest.mark.parametrize(
    "headers",
    [{}, {"Authorization": "Bearer password-of-nobody"}, {"Authorization": "Bearer lg-01"}, {"Authorization": "x"}],
)
def test_who_is_not_in_the_file_is_asked_who_he_is_and_nothing_is_kept(headers: dict[str, str]) -> None:
    with open_way() as way:
        for path in ("/r/lg-01", "/t/board/lg-01/1", "/t/nowhere"):
            answer = ask(way.app, "POST", path, content=b"[]", headers={"Content-Type": JSON, **headers})
            assert (answer.status_code, "Bearer" in answer.headers["www-authenticate"]) == (401, True)
        assert way.bench.book.refused() == []


def test_a_logger_sends_for_itself_alone() -> None:
    with open_way() as way:
        assert way.post(pack(warm(20.0)), by="lg-02").status_code == 403
        assert way.post(b"20", BOARD, media=TEXT, by="lg-02").status_code == 403
        assert way.post(pack(warm(20.0)), "/r/lg-01/", by="lg-01").status_code == 404
        assert way.post(pack(warm(20.0)), "/r/%20lg-01").status_code == 403
        # A name inside that is another's is refused with its reason, as by MQTT.
        assert said(way.post(pack(warm(20.0)), "/r/lg-02", by="lg-02")) == (200, 0, 0, 1)
        assert way.bench.readings.stored == {}


def test_what_no_topic_takes_and_what_no_format_is_called_is_told_so_and_not_kept() -> None:
    with open_way() as way:
        assert way.post(b"20", "/t/board/lg-01", media=TEXT).status_code == 404
        assert way.post(b"20", f"/t/slabhour/{SITE}/canary", media=TEXT).status_code == 404
        for media in ("", "text/csv", "application/x-www-form-urlencoded", "application/senml+xml"):
            answer = way.post(pack(warm(20.0)), media=media)
            assert answer.status_code == 415
            assert set(answer.headers["accept-post"].split(", ")) >= {JSON, CBOR}
        assert way.post(b"20.5", BOARD, media=JSON).status_code == 415
        packed = {"Content-Encoding": "gzip"}
        assert way.post(gzip.compress(pack(warm(20.0))), **packed).status_code == 415
        assert ask(way.app, "GET", "/r/lg-01").status_code == 405
        assert (way.bench.book.refused(), way.bench.readings.stored) == ([], {})


def test_what_is_too_big_is_not_read_to_its_end_and_written_down_in_part() -> None:
    async def endless() -> AsyncIterator[bytes]:
        for _ in range(1000):
            yield b" " * 1000
        raise AssertionError("read to its end")

    with open_way() as way:
        for body in (endless(), b" " * 16_385):
            answer = way.post(body)
            assert said(answer) == (413, 0, 0, 1)
            assert answer.json()["reasons"][0]["reason"] == Reason.TOO_BIG.value
        assert {len(refused.payload) for refused in way.bench.book.refused()} == {2048}
        assert said(way.post(b" " * 16_384))[0] == 200


def test_who_hangs_up_in_the_middle_costs_nothing() -> None:
    async def half(way: Way) -> None:
        headers = {b"authorization": b"Bearer password-of-lg-01", b"content-type": JSON.encode()}
        scope = {
            "type": "http",
            "method": "POST",
            "path": "/r/lg-01",
            "raw_path": b"/r/lg-01",
            "query_string": b"",
            "headers": list(headers.items()),
        }
        come: list[dict[str, Any]] = [
            {"type": "http.request", "body": b"[", "more_body": True},
            {"type": "http.disconnect"},
        ]

        async def receive() -> dict[str, Any]:
            return come.pop(0)

        async def send(message: Any) -> None:
            assert message["type"].startswith("http.response")

        await way.app(scope, receive, send)

    with open_way() as way:
        asyncio.run(half(way))
        assert (way.bench.book.refused(), way.bench.readings.stored) == ([], {})


def test_the_interface_tells_its_answers_and_media_types() -> None:
    with open_way() as way:
        paths = way.app.openapi()["paths"]
    for path, media in (("/r/{logger}", {JSON, CBOR}), ("/t/{topic}", {JSON, CBOR, TEXT, "application/json"})):
        told = paths[path]["post"]
        assert set(told["requestBody"]["content"]) >= media
        assert {"200", "401", "403", "413", "415", "503"} <= told["responses"].keys()
        assert told["security"]


BODIES: Final = st.binary(max_size=400) | st.sampled_from([sample.payload for sample in SAMPLES.values()])


@pytest.fixture(scope="module")
def any_way() -> Iterator[Way]:
    with open_way() as way:
        yield way


@settings(max_examples=200, deadline=None)
@given(BODIES, st.sampled_from([("/r/lg-01", JSON), ("/r/lg-01", CBOR), (BOARD, TEXT)]))
def test_whatever_is_posted_is_stored_or_refused_with_a_reason(
    any_way: Way, body: bytes, where: tuple[str, str]
) -> None:
    answer = any_way.post(body, where[0], media=where[1])
    status, stored, waiting, refused = said(answer)
    assert status == 200
    assert bool(refused) == bool(answer.json()["reasons"])
    assert stored + waiting + refused or b"seq" in body
