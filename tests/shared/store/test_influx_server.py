"""The connection to InfluxDB against a server that answers as ordered, and the writing against victoria-metrics."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Event, Thread

import pytest
from influx_support import NEEDS_VICTORIA, ask, influx_setup, settings_of, victoria
from ordered_server import Answer, Ordered, ordered
from store_support import EDGE, make_reading

from shared.errors import RejectedError, StoreError
from shared.store import influx_server, open_readings
from shared.store.influx_server import FaultyLine, InfluxServer

LINE = "slabhour_reading,sensor=lg-01.1,site=millrace milli_c=20000.0,received_ms=1.0 1764000000000"


@pytest.fixture(autouse=True)
def short_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in (("PATIENCE_S", 1.0), ("FIRST_WAIT_S", 0.01), ("LONGEST_WAIT_S", 0.05), ("READ_MS", 300)):
        monkeypatch.setattr(influx_server, name, value)


@contextmanager
def connected(*answers: Answer, **more: str) -> Iterator[tuple[Ordered, InfluxServer]]:
    with (
        ordered(*answers) as front,
        closing(InfluxServer(settings_of(front.url, **more), Path())) as server,
    ):
        yield front, server


@pytest.mark.row("S2")
@pytest.mark.parametrize(
    "first", [Answer(503), Answer(500), Answer(429, retry_after="1"), Answer(408), Answer(hang=True)]
)
def test_a_server_that_is_merely_away_is_asked_again(first: Answer, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(influx_server, "SILENT_S", 0.1)
    with connected(first, Answer(204)) as (front, server):
        assert server.write([LINE]) == []
        assert [r.body for r in front.requests] == [LINE.encode()] * 2


def test_one_that_stays_away_is_given_up_in_words_after_a_while() -> None:
    with connected(Answer(503, b'{"message": "shutting down"}')) as (front, server):
        began = time.monotonic()
        with pytest.raises(StoreError, match="cannot write: 503 shutting down"):
            server.write([LINE])
        assert time.monotonic() - began < 60.0
        assert len(front.requests) >= 2


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (Answer(401, b'{"message": "unauthorized access"}'), "token_file"),
        (Answer(404, b'{"error": "database not found"}'), "slabhour check --fix makes the bucket slab"),
        (Answer(400, b'{"error": "field type conflict: x is integer"}'), "field type conflict"),
        (Answer(302), "302"),
    ],
)
def test_what_will_not_get_better_is_told_at_once_and_gives_no_reading_up(answer: Answer, words: str) -> None:
    with connected(answer) as (front, server):
        with pytest.raises(StoreError, match=words):
            server.write([LINE, LINE])
        assert len(front.requests) == 1


def test_a_server_that_is_silent_is_not_waited_for_by_everybody(monkeypatch: pytest.MonkeyPatch) -> None:
    with connected(Answer(hang=True)) as (front, server):
        with pytest.raises(StoreError, match="did not answer in time"):
            server.query(["SELECT 1"])
        asked, began = len(front.requests), time.monotonic()
        monkeypatch.setattr(influx_server, "PATIENCE_S", 0.0)
        for _ in range(50):
            with pytest.raises(StoreError, match="a moment ago"):
                server.query(["SELECT 1"])
        assert time.monotonic() - began < 60.0
        assert len(front.requests) == asked


@pytest.mark.parametrize("bad", [[], [0], [7], [3, 4, 9], list(range(10))])
def test_bad_lines_are_found_one_by_one_whatever_the_server_did_with_the_rest(bad: Sequence[int]) -> None:
    lines = [f"m,n={n} v=1.0 {n}" for n in range(10)]
    refusal = Answer(400, b'{"error": "partial write: it is bad dropped=1"}')
    with ordered(Answer(204), unless={lines[n].encode(): refusal for n in bad}) as front:
        with closing(InfluxServer(settings_of(front.url), Path())) as server:
            found = server.write(lines)
            assert [one.line for one in found] == [lines[n] for n in bad]
            assert all("it is bad" in one.why for one in found)
        taken = {line for r in front.requests if r.status == 204 for line in r.body.decode().split("\n")}
        assert taken == {line for n, line in enumerate(lines) if n not in bad}


@pytest.mark.row("S6")
@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ({"results": [{"error": "database not found: slab"}]}, "database not found"),
        ({"results": [{"series": [{"columns": ["time", "v"], "values": [[1, 2]], "partial": True}]}]}, "max-row-limit"),
        ({"results": [{"partial": True}]}, "max-row-limit"),
        ({"results": []}, "0 answers to 1"),
        ({}, "0 answers to 1"),
        ([], "cannot be read"),
        ({"results": [{"series": [{}]}]}, "cannot be read"),
        (None, "cannot be read"),
    ],
)
def test_an_answer_with_a_piece_missing_is_never_a_history(answer: object, words: str) -> None:
    body = b"<html>please sign in</html>" if answer is None else json.dumps(answer).encode()
    with connected(Answer(200, body)) as (_, server), pytest.raises(StoreError, match=words):
        server.query(["SELECT v FROM m"])


@pytest.mark.row("S1")
def test_an_acknowledgement_without_the_reading_is_an_error() -> None:
    nothing = json.dumps({"results": [{}, {}]}).encode()
    with ordered(Answer(204), queries=Answer(200, nothing)) as front:
        store = open_readings(influx_setup(front.url), Path())
        with closing(store), pytest.raises(StoreError, match="acknowledged 1 readings and does not have them"):
            store.merge([make_reading()])


def test_what_cannot_be_written_exactly_is_named_and_nothing_is_sent() -> None:
    odd = [make_reading("no sensor'--"), make_reading(c=1e13), make_reading(minutes=1e12)]
    with ordered(Answer(204)) as front:
        store = open_readings(influx_setup(front.url), Path())
        with closing(store), pytest.raises(RejectedError) as caught:
            store.merge(odd)
        assert [reading for reading, _ in caught.value.rejected] == odd
        assert front.requests == []
        again = open_readings(influx_setup(front.url), Path())
        with closing(again), pytest.raises(StoreError, match="no sensor can be called"):
            again.between(odd[0].sensor, 0, 1)


def test_the_token_goes_with_every_request_and_is_in_no_error(tmp_path: Path) -> None:
    (tmp_path / "influx").write_text("planted-token\n", encoding="utf-8")
    with ordered(Answer(401, b'{"message": "unauthorized"}')) as front:
        settings = settings_of(front.url, token_file="influx", org="site")  # noqa: S106 - the name of a file
        with closing(InfluxServer(settings, tmp_path)) as server:
            for use in (lambda: server.write([LINE]), lambda: server.query(["SELECT 1"])):
                with pytest.raises(StoreError) as caught:
                    use()
                assert "planted" not in f"{caught.value}{caught.value.__cause__!r}"
        assert [r.headers["Authorization"] for r in front.requests] == ["Token planted-token"] * 2
    with pytest.raises(StoreError, match="the token of InfluxDB, none, cannot be read"):
        InfluxServer(settings_of(front.url, token_file="none"), tmp_path)  # noqa: S106 - the name of a file


def test_a_certificate_is_believed_only_by_its_authority(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"ca\.pem, its authority, is not there"):
        InfluxServer(settings_of("https://127.0.0.1:1", ca_file="ca.pem"), tmp_path)
    with ordered(Answer(204)) as front:
        settings = settings_of(front.url.replace("http:", "https:"))
        with closing(InfluxServer(settings, tmp_path)) as server, pytest.raises(StoreError, match="SSL"):
            server.write([LINE])
        assert front.requests == []


def test_closing_sends_whoever_waits_away(monkeypatch: pytest.MonkeyPatch) -> None:
    with connected(Answer(503)) as (front, server):
        monkeypatch.setattr(influx_server, "PATIENCE_S", 60.0)
        gone = Event()

        def write() -> None:
            with pytest.raises(StoreError):
                server.write([LINE])
            gone.set()

        waiting = Thread(target=write)
        waiting.start()
        while not front.requests:
            gone.wait(0.01)
        server.close()
        assert gone.wait(60)
        waiting.join()


@pytest.mark.parametrize("kind", [pytest.param("victoria", marks=NEEDS_VICTORIA)])
def test_another_server_of_line_protocol_gets_every_line_through_an_outage(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """victoria-metrics has the address of 2.x itself; as a store it is refused, for its yes is not durable."""
    other = victoria(tmp_path / kind)
    monkeypatch.setattr(influx_server, "PATIENCE_S", 20.0)
    lines = [f"m,sensor={EDGE} v={n}.0 {1_764_000_000_000 + n}" for n in range(2_000)]
    with closing(InfluxServer(settings_of(f"http://127.0.0.1:{other.port}"), tmp_path)) as server:
        found: list[FaultyLine] = []
        writing = Thread(target=lambda: found.extend(server.write(lines)))
        writing.start()
        Event().wait(0.3)
        assert writing.is_alive(), "nothing listens yet"
        other.start()
        try:
            writing.join(20)
            assert (writing.is_alive(), found) == (False, [])
            ask(other.port, "GET", "/internal/force_flush")
            _, said = ask(other.port, "GET", "/api/v1/export?match[]=m_v&start=1763999990")
            series = json.loads(said)
            assert series["timestamps"] == [1_764_000_000_000 + n for n in range(2_000)]
            assert series["values"] == list(range(2_000))
            assert server.version() == "unknown"
        finally:
            other.kill()
