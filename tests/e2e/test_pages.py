"""A pour from its first tap to STOP by the pages alone, over the real service: stores, rounds, acts and messages."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyotp
import pytest
from deploy_support import END_MS, POUR, START_MS, history, little_service
from fastapi import FastAPI
from pages_support import HASHED, PASSWORD, SECRET, Browser

from cure.dashboard import door
from cure.dashboard.app import pages
from deploy.page_parts import page_parts
from deploy.wiring import Service
from shared.clock import SimulatedClock
from shared.models.accounts import Account
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK
from shared.models.decisions import GateState
from shared.models.messages import MessageKind

S = GateState


class Stage:
    """The little site with its pages, and a browser for each person."""

    def __init__(self, service: Service, clock: SimulatedClock) -> None:
        self.service, self.clock = service, clock
        self.app = FastAPI()
        self.app.include_router(pages(page_parts(service, service.apply, demo=False)))
        self._csrf: dict[Browser, str] = {}

    def comes(self, person: str) -> Browser:
        """Return the browser of a person who has signed in."""
        people, now = self.service.book.people, self.clock.now()
        account = Account(person, None, HASHED, SECRET, now)
        assert door.join(people, door.invite(people, person, None, "admin", now), account)
        browser = Browser(self.app)
        form = {"person": person, "password": PASSWORD, "next": "/"}
        assert browser.post("/sign-in", form).status_code == 303
        token = browser.cookies["slabhour_session"]
        session = people.session(door.digest_of(token), now)
        assert session is not None
        self._csrf[browser] = session.csrf
        return browser

    def send(self, browser: Browser, path: str, **form: Any) -> tuple[int, str]:
        """Send a form; the rounds and the dispatcher follow, as in the service."""
        answer = browser.post(path, {"csrf": self._csrf.get(browser, ""), **form})
        self.turn()
        return answer.status_code, html.unescape(answer.text)

    def turn(self) -> None:
        """Let what is due be done."""
        self.service.rounds.run_due()
        self.service.dispatcher.run_due()

    def passes(self, to_ms: int) -> None:
        """Let an hour come."""
        self.clock.set(to_ms)
        self.turn()

    def states(self) -> list[GateState]:
        """Return where strip, walk and load stand in the book."""
        gates = self.service.book.board.board()[0].gates
        return [gates[op].state for op in (STRIP, WALK, LOAD)]

    def words(self, browser: Browser) -> list[str]:
        """Return what the board says of the three."""
        return re.findall(r'<td class="[^"]*"><span class="sign">.*?<b>([^<]+)</b>', browser.get("/").text)


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with little_service(tmp_path, START_MS) as (service, clock):
        yield Stage(service, clock)


def test_a_pour_is_started_ended_signed_stripped_and_stopped_by_the_pages(stage: Stage) -> None:
    super_, qc, stranger = stage.comes("super"), stage.comes("qc-one"), Browser(stage.app)
    assert "No pours yet." in super_.get("/").text
    assert stage.send(super_, "/pour/2-b1/start", open="", name=POUR, earlier="")[0] == 303
    stage.passes(END_MS)
    assert stage.send(super_, "/pour/2-b1/end", open=POUR, earlier="")[0] == 303

    readings = history(26)
    stage.clock.set(readings[-1].received_ms)
    stage.service.intake.take_rows(readings)
    stage.turn()
    stage.passes(stage.clock.now() + 61_000)
    assert stage.states() == [S.MET, S.MET, S.CURING]
    # A day has passed: sessions end with it.
    assert super_.get("/").status_code == 303
    super_, qc = stage.comes("super"), stage.comes("qc-one")
    assert stage.words(super_) == ["Sign-off wanted", "Sign-off wanted", "Curing"]

    items = [html.unescape(i) for i in re.findall(r'name="item" value="([^"]+)" checked', super_.get("/sign").text)]
    form = {"item": items, "read": "yes", "nothing-else": "yes", "password": PASSWORD}
    code = pyotp.TOTP(SECRET).at(stage.clock.now() // 1000)
    status, text = stage.send(super_, "/sign", **form, code=code)
    assert status == 200
    assert "Signed: 2-b1: Strip, Walk." in text
    assert stage.words(super_) == ["Released", "Released", "Curing"]
    told = [m.kind for m in stage.service.book.board.messages()]
    assert told.count(MessageKind.RELEASED) == 2

    tap = {"pour": POUR, "operation": STRIP}
    assert stage.send(qc, "/bay/2-b1/under-way", **tap)[0] == 303
    assert stage.words(qc) == ["Under way", "Keep off", "Keep off"]
    assert stage.send(qc, "/bay/2-b1/under-way", **tap)[0] == 409
    assert stage.send(qc, "/bay/2-b1/done", **tap)[0] == 303
    assert stage.words(qc) == ["Done", "Released", "Curing"]

    mark = re.search(r'name="mark" value="([^"]+)"', stage.send(stranger, "/stop/2-b1", why="a crack")[1])
    assert mark
    assert "STOP is pressed" in stage.send(stranger, "/stop/2-b1", mark=mark[1], why="a crack")[1]
    assert stage.states() == [S.DONE, S.WITHDRAWN, S.WITHDRAWN]
    assert stage.words(qc) == ["Done", "Keep off", "Keep load off"]
    assert stage.service.book.board.acts()[-1].who == "at-the-bay"
    assert stage.service.book.service.verify_log()[0] > 0


def test_what_is_not_met_any_more_is_not_signed_whatever_the_page_showed(stage: Stage) -> None:
    super_ = stage.comes("super")
    stage.send(super_, "/pour/2-b1/start", open="", name=POUR, earlier="")
    stage.passes(END_MS)
    stage.send(super_, "/pour/2-b1/end", open=POUR, earlier="")
    readings = history(26)
    stage.clock.set(readings[-1].received_ms)
    stage.service.intake.take_rows(readings)
    stage.turn()
    stage.passes(stage.clock.now() + 61_000)
    super_ = stage.comes("super")
    items = [html.unescape(i) for i in re.findall(r'name="item" value="([^"]+)" checked', super_.get("/sign").text)]
    assert len(items) == 2
    # The sensors fall silent, the concrete cannot be seen any more: hours later nothing of it is signed.
    stage.passes(stage.clock.now() + 6 * HOUR_MS)
    form = {"item": items, "read": "yes", "nothing-else": "yes", "password": PASSWORD}
    code = pyotp.TOTP(SECRET).at(stage.clock.now() // 1000)
    stage.send(super_, "/sign", **form, code=code)
    assert GateState.RELEASED not in stage.states()
