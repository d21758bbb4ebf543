"""The interface for other software: who may ask for what, what is carried out once, what it says, what breaks it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from api_support import PEOPLE, V1, Office, office
from deploy_support import act
from hypothesis import HealthCheck, Phase, given, settings
from pages_support import PASSWORD
from schemathesis.specs.openapi.checks import positive_data_acceptance

from cure.dashboard import api as api_module
from cure.dashboard.api import api
from cure.dashboard.api_writes import ACTS
from cure.dashboard.rules import API, API_RULES, opens
from shared.models.acts import instant
from shared.models.base import MINUTE_MS
from shared.models.people import Role
from shared.models.tokens import ALONE, Scope

POUR = "2-b1-p1"
FILLED = {"{bay}": "2-b1", "{digest}": "0" * 64, "{no}": "1", "{table}": "estimates"}
FILLED |= {"{logger}": "lg-01", "{mix}": "c32-f", "{pour}": POUR}

BOUND = {f"{API}/acts/{name}" for name in ("take-over", "ready", "ticket", "ticket-answer")}
"""Acts with routes of their own."""


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """An office that nobody changes."""
    with office(tmp_path_factory.mktemp("office")) as found:
        yield found


@pytest.fixture
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("own")) as found:
        yield found


def asked(o: Office, method: str, route: str, token: str | None) -> int:
    path = route.replace("{token}", token or "x")
    for name, value in FILLED.items():
        path = path.replace(name, value)
    return o.ask(method, path, token).status_code


@pytest.mark.parametrize(("method", "route"), API_RULES, ids=str)
def test_a_route_answers_the_scopes_and_roles_of_its_rule_and_nobody_else(
    shared: Office, method: str, route: str
) -> None:
    scope = API_RULES[method, route].scope or Scope.READ
    tried = {(scope, role) for role in Role} | {(one, Role.ENGINEER) for one in Scope}
    for one, role in tried:
        status = asked(shared, method, route, shared.token(one, person=PEOPLE[role]))
        if opens(method, route, {one}, role):
            assert status in ({200, 404, 422} if method == "GET" else {422}), (one, role)
        else:
            assert status == 403, (one, role)
    assert asked(shared, method, route, None) == 401
    assert asked(shared, method, route, "no-such-token") == 401


def test_a_route_without_a_rule_stops_the_interface_from_being_made(
    shared: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = api_module.handlers
    monkeypatch.setattr(api_module, "handlers", lambda parts: {**found(parts), ("GET", f"{API}/new"): lambda: None})
    with pytest.raises(KeyError, match="/new"):
        api(shared.parts)


def test_nothing_but_stop_is_done_by_who_only_reads_and_what_stands_in_an_address_opens_nothing_else() -> None:
    # A plan changes nothing either: what is asked is too long for an address.
    writes = {r: rule for r, rule in API_RULES.items() if r[0] == "POST" and r[1] != f"{API}/plan"}
    by_readers = [r for r in writes if opens(*r, {Scope.READ}, Role.ENGINEER) or opens(*r, {Scope.ACT}, Role.VIEWER)]
    assert by_readers == [("POST", f"{API}/acts/stop")]
    assert all(rule.scope is Scope.SIGN for (_, path), rule in writes.items() if "signatures" in path)
    for scope in ALONE:
        assert len([r for r in API_RULES if opens(*r, {scope}, Role.ENGINEER)]) == 1


def test_a_token_that_is_ended_or_has_run_out_opens_nothing(own: Office) -> None:
    brief = own.token("read", until=instant(own.clock.now() + MINUTE_MS))
    assert own.ask("GET", f"{V1}/me", brief).json()["scopes"] == ["read"]
    own.clock.set(own.clock.now() + MINUTE_MS)
    answer = own.ask("GET", f"{V1}/me", brief)
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer")
    going = own.token("read", person="crew")
    number = own.service.book.tokens.tokens()[-1].no
    own.service.apply(act("end_token", own.clock.now(), who="qc-one", token=number))
    assert own.ask("GET", f"{V1}/me", going).status_code == 401


def test_the_board_says_what_stands_and_a_list_goes_on_page_by_page(shared: Office) -> None:
    board = shared.read("board")
    (pour,) = board["pours"]
    gates = {g["operation"]: g for g in pour["gates"]}
    assert {op: (g["standing"], g["released"]) for op, g in gates.items()} == {
        "strip": ("met", False),
        "walk": ("met", False),
        "load": ("curing", False),
    }
    assert "governs" not in board["caution"]
    assert "releases nothing" in board["caution"]
    assert pour["estimate"]["lower_bound_mpa"] > 3.5
    assert shared.read(f"evidence/{gates['strip']['evidence']}")
    assert shared.read("bays/2-b1")["pour"] == pour
    found, cursor = [], None
    since = {"sensor": "lg-01.1", "from": "2026-11-23T08:00:00-04:00", "limit": 50}
    while True:
        page = shared.read("readings", **since, **({} if cursor is None else {"cursor": cursor}))
        found += [r["taken"] for r in page["items"]]
        cursor = page["next"]
        if cursor is None:
            break
    # A quarter of an hour apart, 28 h, after the first instant.
    assert (len(found), found) == (28 * 4, sorted(set(found)))
    every = shared.read("decisions", limit=1000)["items"]
    paged, cursor = [], None
    while True:
        page = shared.read("decisions", limit=2, **({} if cursor is None else {"cursor": cursor}))
        paged += page["items"]
        if (cursor := page["next"]) is None:
            break
    assert paged == every != []
    wrong = shared.ask("GET", f"{V1}/messages?cursor=zzz", shared.token("read"))
    assert (wrong.status_code, wrong.headers["content-type"]) == (422, "application/problem+json")
    messages = shared.read("messages")["items"]
    assert [shared.read(f"messages/{one['no']}") for one in messages] == messages
    assert shared.read("loggers")["items"][0]["standing"] == "alive"
    assert shared.read("calibrations")["items"][0]["in_force"] is True


def test_a_key_is_carried_out_once_and_says_the_same_again(own: Office) -> None:
    body = {"pour": POUR, "operation": "load", "wanted": "2026-11-25T07:00:00-04:00"}
    first, again = own.do("acts/want", body, key="k1"), own.do("acts/want", body, key="k1")
    assert (first.status_code, first.json()) == (200, again.json())
    assert ("Idempotent-Replayed" in first.headers, again.headers["Idempotent-Replayed"]) == (False, "true")
    assert [a.kind for a in own.service.book.board.acts()].count("want") == 1
    other = own.do("acts/want", {**body, "operation": "walk"}, key="k1")
    assert (other.status_code, "another request" in other.json()["detail"]) == (422, True)
    refused = own.do("acts/done", {"pour": POUR, "operation": "strip"}, key="k2")
    assert (refused.status_code, refused.json()["title"]) == (409, "Conflict")
    assert own.do("acts/done", {"pour": POUR, "operation": "strip"}, key="k2").json() == refused.json()
    number = own.service.book.tokens.tokens()[-1].no
    own.service.book.tokens.begin(number, "crashed", "0" * 64, own.clock.now())
    crashed = own.do("acts/stop", {"pour": POUR, "why": "x"}, key="crashed")
    assert crashed.status_code == 422
    assert (
        own.ask("POST", f"{V1}/acts/stop", own.token("act", "sign"), json={"pour": POUR, "why": "x"}).status_code == 422
    )
    assert own.gate("strip")["standing"] == "met"


def test_nobody_speaks_for_another_or_at_another_hour(own: Office) -> None:
    for more in ({"who": "qc-one"}, {"at": "2026-11-20T08:00:00Z"}, {"second_person": "qc-one"}, {"scripted": True}):
        assert own.do("acts/pour-end", {"pour": POUR, **more}).status_code == 422
    assert own.do("acts/cover", {"pour": POUR, "on": True}).json()["done"]["who"] == "super"


def test_signing_is_bound_to_what_was_seen_and_takes_password_and_a_new_code(own: Office) -> None:
    said = own.to_sign("strip", "walk")
    for change, status in (
        ({"password": "wrong"}, 403),
        ({"code": "000000"}, 403),
        ({"read": False}, 422),
        ({"items": said["items"][::-1]}, 409),
        ({"operations": ["strip", "load"]}, 409),
        ({"items": [item.replace("|1|", "|2|") for item in said["items"]]}, 409),
    ):
        assert own.do("signatures", {**said, **change}, key="again").status_code == status, change
    assert own.gate("strip")["standing"] == "met"
    done = own.do("signatures", said, key="again")
    assert (done.status_code, done.json()["done"]["who"]) == (200, "super")
    assert PASSWORD not in json.dumps(done.json())
    # The same request again is not signed again, although its code is used up.
    assert own.do("signatures", said, key="again").json() == done.json()
    assert [own.gate(op)["released"] for op in ("strip", "walk", "load")] == [True, True, False]
    (first, _) = own.read("records")["items"]
    assert (first["stands"], first["kind"]) == (True, "released")
    pdf = own.ask("GET", f"{V1}/records/{first['no']}/pdf", own.token("read"))
    assert pdf.content.startswith(b"%PDF-1.7")
    assert own.do("acts/under-way", {"pour": POUR, "operation": "strip"}).status_code == 200
    assert (own.gate("walk")["standing"], own.gate("walk")["released"]) == ("keep off", False)
    assert own.do("acts/stop", {"pour": POUR, "why": "crack"}, token=own.token("read")).status_code == 200
    assert not own.read(f"records/{first['no']}")["stands"]
    assert {g["released"] for g in own.read("gates")["items"]} == {False}


def test_guessing_is_held_back_on_pages_and_interface_alike(own: Office) -> None:
    said = own.to_sign("strip")
    for _ in range(5):
        assert own.do("signatures", {**said, "password": "guess"}).status_code == 403
    late = own.do("signatures", said)
    assert (late.status_code, int(late.headers["Retry-After"]) > 60) == (429, True)
    assert own.gate("strip")["standing"] == "met"


def test_what_nobody_judges_any_more_is_in_doubt_and_not_released(own: Office) -> None:
    assert own.do("signatures", own.to_sign("strip")).status_code == 200
    assert own.gate("strip")["released"]
    own.clock.set(own.clock.now() + 600 * MINUTE_MS)
    gate = own.gate("strip")
    assert (gate["standing"], gate["state"], gate["released"], gate["expected"]) == (
        "in doubt",
        "released",
        False,
        None,
    )
    assert own.read("board")["pours"][0]["in_doubt"] is True
    assert not own.read("records")["items"][0]["stands"]


def test_every_act_of_the_interface_has_its_route_and_answers_bear_the_headers(shared: Office) -> None:
    assert {f"{API}/acts/{name}" for name in ACTS} | BOUND == {p for m, p in API_RULES if "/acts/" in p}
    answer = shared.ask("DELETE", f"{V1}/board", shared.token("read"))
    assert (answer.status_code, answer.headers["Allow"]) == (405, "GET")
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["cache-control"] == "no-store"
    assert shared.ask("GET", f"{V1}/nowhere", None).json()["status"] == 404
    packed = shared.ask("GET", f"{V1}/board", shared.token("read"), headers={"Accept-Encoding": "gzip"})
    assert (packed.headers["content-encoding"], packed.headers["vary"]) == ("gzip", "Accept-Encoding, Authorization")


def test_no_request_that_fits_the_description_breaks_it_and_none_writes_without_a_token(own: Office) -> None:
    """Bounded: a few made-up requests for each route, with a token of every scope and without any."""
    loaded = schemathesis.openapi.from_asgi(f"{V1}/openapi.json", own.app)
    tokens = {scope: own.token(scope, person="engineer") for scope in Scope}
    found: Any = loaded.get_all_operations()
    operations = {(o.method.upper(), o.path): o for o in (one.ok() for one in found)}
    assert API_RULES.keys() <= operations.keys()
    for route, rule in API_RULES.items():
        tried(own, operations[route], tokens[rule.scope or Scope.READ])


def tried(own: Office, operation: Any, token: str) -> None:
    """Make a few requests of an operation as its description allows them, and hold the answers against it."""

    def log() -> int:
        return own.service.book.service.log_head()[0]

    @settings(
        max_examples=4,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def once(case: Any) -> None:
        before = log()
        assert case.call().status_code in {401, 404}
        assert log() == before
        answer = case.call(headers={"Authorization": f"Bearer {token}"})
        assert answer.status_code < 500, answer.text
        # What fits the description may still be refused: a key that was used, an hour beyond the calendar.
        case.validate_response(answer, excluded_checks=[positive_data_acceptance])

    once()
