"""What stands before every page: foreign forms, old forms, stores that fail."""

from __future__ import annotations

import logging

import pytest
from pages_support import NOW, Bench
from store_support import OTHER_BAY

from cure.dashboard import door
from cure.dashboard.idle import IDLE_MS
from shared.errors import StoreError
from shared.models.accounts import SESSION_MS
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.decisions import Doubt, DoubtKind
from shared.models.people import Role


def test_nobody_is_sent_to_sign_in_and_then_back(bench: Bench) -> None:
    answer = bench.browser().get("/?floor=2")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/sign-in?next=/%3Ffloor%3D2")


def test_a_session_opens_the_board_until_its_hour(bench: Bench) -> None:
    browser = bench.signed_in(Role.VIEWER)
    assert "Where each bay stands" in browser.get("/").text
    bench.clock.set(NOW + SESSION_MS)
    assert browser.get("/").status_code == 303
    assert browser.get("/board/rows").status_code == 401


def test_a_session_that_nobody_uses_ends_although_its_page_goes_on_asking(bench: Bench) -> None:
    browser = bench.signed_in(Role.VIEWER)
    for minutes in (0, 70, 119):
        bench.clock.set(NOW + minutes * MINUTE_MS)
        assert browser.get("/board/rows").status_code == 200
    token = browser.cookies["slabhour_session"]
    bench.clock.set(NOW + IDLE_MS)
    assert browser.get("/board/rows").status_code == 401
    assert bench.people.session(door.digest_of(token), bench.clock.now()) is None
    used = bench.signed_in(Role.VIEWER)
    for hours in (1, 2, 3):
        bench.clock.set(NOW + IDLE_MS + hours * HOUR_MS)
        assert used.get("/").status_code == 200


def test_an_account_that_is_ended_is_out_at_once(bench: Bench) -> None:
    browser = bench.signed_in(Role.VIEWER)
    bench.people.end_account("viewer", NOW, door.logged(NOW, "admin", "ended"))
    assert browser.get("/").status_code == 303


@pytest.mark.parametrize(
    "origin", ["http://evil.test", "null", "", "http://site.test.evil.test", "http://site.test:81"]
)
def test_a_form_of_a_strangers_page_does_nothing(bench: Bench, origin: str) -> None:
    browser = bench.signed_in(Role.QC)
    form = {"csrf": bench.csrf(browser), "name": "hut"}
    answer = browser.post("/devices/add", form, origin=origin)
    assert answer.status_code == 403
    assert "did not come from a page of this server" in answer.text
    assert bench.people.devices() == []


def test_a_form_without_the_session_s_secret_does_nothing(bench: Bench) -> None:
    browser, other = bench.signed_in(Role.QC), bench.signed_in(Role.ENGINEER)
    for csrf in ("", "x", bench.csrf(other)):
        assert browser.post("/devices/add", {"csrf": csrf, "name": "hut"}).status_code == 403
    assert bench.people.devices() == []
    assert browser.post("/devices/add", {"csrf": bench.csrf(browser), "name": "hut"}).status_code == 200


def test_whoever_lacks_the_role_reads_who_has_it(bench: Bench) -> None:
    answer = bench.signed_in(Role.QC).get("/people")
    assert answer.status_code == 403
    assert "Needed: admin. Who has it: admin." in answer.text


def test_a_form_longer_than_any_of_ours_is_not_read(bench: Bench) -> None:
    assert bench.browser().post("/sign-in", {"person": "x" * 70_000}).status_code == 413
    assert bench.browser().post("/sign-in", {f"f{n}": "x" for n in range(500)}).status_code == 413


def test_a_store_that_cannot_be_read_is_said_without_a_board(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    browser = bench.signed_in(Role.QC)
    bench.board.down = True
    with caplog.at_level(logging.ERROR):
        answer = browser.get("/", accept_language="fr-CA, en;q=0.5")
    assert answer.status_code == 503
    assert "disk I/O error" in answer.text
    assert "Le serveur ne peut pas lire ses données" in answer.text
    assert OTHER_BAY not in answer.text


def test_a_store_that_fails_in_the_middle_is_said_too(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def down() -> None:
        raise StoreError("site.db: locked")

    monkeypatch.setattr(bench.board, "doubts", down)
    answer = bench.signed_in(Role.QC).get("/")
    assert answer.status_code == 503
    assert "site.db: locked" in answer.text


def test_what_nobody_thought_of_is_a_page_without_a_traceback(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.board, "board", lambda: 1 / 0)
    answer = bench.signed_in(Role.QC).get("/")
    assert answer.status_code == 500
    assert "Something failed" in answer.text
    assert "ZeroDivisionError" not in answer.text


def test_the_part_is_sent_again_only_when_it_has_changed(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    first = browser.get("/board/rows")
    assert first.headers["Site-Hour"] == "18:00:00"
    bench.clock.set(NOW + 15_000)
    again = browser.get("/board/rows", if_none_match=first.headers["ETag"])
    assert (again.status_code, again.content, again.headers["Site-Hour"]) == (304, b"", "18:00:15")
    bench.board.open_doubts = [Doubt(DoubtKind.LOG, NOW, "line 7 is not as it was written")]
    changed = browser.get("/board/rows", if_none_match=first.headers["ETag"])
    assert changed.status_code == 200
    assert "line 7 is not as it was written" in changed.text
    assert first.text in browser.get("/").text or changed.text in browser.get("/").text


def test_a_name_from_outside_is_text_on_every_page(bench: Bench) -> None:
    bench.board.open_doubts = [Doubt(DoubtKind.LOG, NOW, "<img src=x onerror=alert(1)>")]
    text = bench.signed_in(Role.QC).get("/").text
    assert "<img" not in text
    assert "&lt;img" in text
    assert "<svg onload" not in bench.browser().get("/sign-in?next=/%22%3E%3Csvg%20onload=x%3E").text
