"""No answer says more than what is durable, and what was not promised may come again."""

from __future__ import annotations

from threading import Event, Thread

import httpx
import pytest
from http_support import BOARD, TEXT, Way, bench, open_way, said
from ingest_support import EDGE, INSIDE, NOW, Bench, pack, until, warm

from ingest import http, writer
from shared.models.base import MINUTE_MS


class Stuck(Bench):
    """A bench whose intake waits after a step until it is let go."""

    def __init__(self, step: str) -> None:
        self.reached, self.go = Event(), Event()
        super().__init__()

        def on_step(name: str) -> None:
            if name == step:
                self.reached.set()
                assert self.go.wait(60)

        self.intake._on_step = on_step


@pytest.mark.row("N1")
@pytest.mark.parametrize("step", ["decoded", "merged", "noted"])
def test_it_is_answered_when_all_of_it_is_durable_and_not_before(step: str) -> None:
    stuck, answers = Stuck(step), list[httpx.Response]()
    with open_way(stuck) as way:
        posting = Thread(target=lambda: answers.append(way.post(pack(warm(20.0), warm(99.0, sensor=INSIDE)))))
        posting.start()
        assert stuck.reached.wait(60)
        posting.join(0.3)
        assert answers == []
        stuck.go.set()
        posting.join(60)
        assert [said(answer) for answer in answers] == [(200, 1, 0, 1)]


@pytest.mark.row("N4")
def test_while_the_store_is_down_nothing_is_promised_and_what_comes_again_is_stored_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(http, "ANSWER_WITHIN_S", 0.2)
    body = pack(warm(20.0))
    with open_way() as way:
        way.bench.readings.failures = 3
        first = way.post(body)
        assert (first.status_code, first.headers["retry-after"]) == (503, str(http.RETRY_AFTER_S))
        until(lambda: way.writer.trouble is None)
        assert said(way.post(body)) == (200, 1, 0, 0)
        assert len(way.bench.readings.stored) == 1
        assert way.bench.book.revision(EDGE) == 1


def test_while_it_is_known_that_the_store_is_down_nothing_more_is_put_in_line() -> None:
    with open_way() as way:
        way.writer.trouble = "the disk is full"
        assert way.post(pack(warm(20.0))).status_code == 503
        late = way.post(b"20.5", BOARD, media=TEXT)
        # Later it would be an old temperature at a new hour.
        assert (late.status_code, "retry-after" in late.headers) == (503, False)
        assert "do not send it again" in late.json()["detail"]
        assert way.writer.waiting() == 0


def test_a_clock_that_cannot_be_right_takes_nothing_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http, "ANSWER_WITHIN_S", 0.2)
    at = Bench(now=1_000_000_000)
    with open_way(at) as way:
        assert way.post(pack(warm(20.0))).status_code == 503
        assert at.book.refused() == []


@pytest.mark.parametrize("most", ["HELD", "MOST_IN_LINE"])
def test_a_full_line_is_told_at_once(most: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writer if most == "HELD" else http, most, 1)
    monkeypatch.setattr(http, "ANSWER_WITHIN_S", 0.2)
    stuck = Stuck("decoded")
    with open_way(stuck) as way:
        answers = [way.post(pack(warm(20.0, NOW - n * MINUTE_MS))).status_code for n in range(4)]
        assert answers == [503] * 4
        assert way.writer.waiting() <= 1
        stuck.go.set()
        until(lambda: way.writer.waiting() == 0 and not way.writer.busy)
        # Room again, and what was not promised comes once more.
        assert said(way.post(pack(*(warm(20.0, NOW - n * MINUTE_MS) for n in range(4))))) == (200, 4, 0, 0)
        assert len(stuck.readings.stored) == 4


def test_a_writer_that_has_ended_takes_nothing() -> None:
    way = Way(bench())
    assert way.post(pack(warm(20.0))).status_code == 503
