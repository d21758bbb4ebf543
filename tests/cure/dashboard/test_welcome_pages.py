from __future__ import annotations

from typing import Any

import pyotp
import pytest
from pages_support import NOW, PASSWORD, SECRET, Bench

from cure.dashboard import door
from shared.models.accounts import INVITATION_MS
from shared.models.people import Role


def form(bench: Bench, **changes: Any) -> dict[str, Any]:
    code = pyotp.TOTP(SECRET).at(bench.clock.now() // 1000)
    whole = {"person": "boss", "password": PASSWORD, "again": PASSWORD, "secret": SECRET, "code": code}
    return whole | changes


def test_the_first_start_makes_one_admin_by_a_link_that_works_once(bench: Bench) -> None:
    link = door.first_link(bench.people, bench.board.of_site, NOW)
    assert link is not None
    browser = bench.browser()
    assert "Make your account" in browser.get(link).text
    assert browser.post(link, form(bench)).status_code == 303
    assert "Let somebody in" in browser.get("/people").text
    assert bench.browser().get(link).status_code == 410
    assert bench.browser().post(link, form(bench, person="other")).status_code == 410
    assert door.first_link(bench.people, bench.board.of_site, NOW) is None


def test_a_second_start_before_anybody_came_replaces_the_link(bench: Bench) -> None:
    first, second = (door.first_link(bench.people, bench.board.of_site, NOW) for _ in range(2))
    assert first is not None
    assert second is not None
    assert bench.browser().get(first).status_code == 410
    assert bench.browser().get(second).status_code == 200


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"person": "Boss man"}, "This name cannot be used here"),
        ({"person": "qc"}, "This name cannot be used here"),
        ({"password": "short", "again": "short"}, "at least 12 characters"),
        ({"again": PASSWORD + "x"}, "The two passwords differ"),
        ({"code": "000000"}, "The code is not right"),
        ({"code": ""}, "The code is not right"),
        ({"secret": "AAAA"}, "The code is not right"),
    ],
)
def test_what_is_not_right_is_said_and_the_link_still_works(bench: Bench, changes: dict[str, str], said: str) -> None:
    link = str(door.first_link(bench.people, bench.board.of_site, NOW))
    answer = bench.browser().post(link, form(bench, **changes))
    assert answer.status_code == 422
    assert said in answer.text
    assert bench.people.accounts() == []
    assert bench.browser().post(link, form(bench)).status_code == 303


def test_a_link_runs_out(bench: Bench) -> None:
    link = str(door.first_link(bench.people, bench.board.of_site, NOW))
    bench.clock.set(NOW + INVITATION_MS)
    assert bench.browser().post(link, form(bench)).status_code == 410


def test_whoever_chooses_a_name_takes_nobody_else_s(bench: Bench) -> None:
    token = door.invite(bench.people, "boss", Role.VIEWER, "admin", NOW)
    assert bench.browser().post(f"/welcome/{token}", form(bench)).status_code == 303
    link = str(door.first_link(bench.people, bench.board.of_site, NOW))
    answer = bench.browser().post(link, form(bench))
    assert "There is an account of that name already" in answer.text


def test_a_person_of_the_site_file_gets_their_role_from_it(bench: Bench) -> None:
    token = door.invite(bench.people, "engineer", None, "admin", NOW)
    browser = bench.browser()
    assert browser.post(f"/welcome/{token}", form(bench, person="ignored")).status_code == 303
    assert "Signed in: engineer, engineer" in browser.get("/").text
    account = bench.people.account("engineer")
    assert account is not None
    assert (account.role, account.secret) == (None, SECRET)


def test_who_only_reads_needs_no_second_factor(bench: Bench) -> None:
    token = door.invite(bench.people, "guest", Role.VIEWER, "admin", NOW)
    assert "Second factor" not in bench.browser().get(f"/welcome/{token}").text
    assert bench.browser().post(f"/welcome/{token}", form(bench, code="", secret="")).status_code == 303
    account = bench.people.account("guest")
    assert account is not None
    assert account.secret is None


def test_no_invitation_makes_somebody_an_engineer_who_is_not_in_the_site_file(bench: Bench) -> None:
    token = door.invite(bench.people, "forger", Role.ENGINEER, "admin", NOW)
    assert bench.browser().post(f"/welcome/{token}", form(bench)).status_code == 422
    assert bench.people.account("forger") is None
