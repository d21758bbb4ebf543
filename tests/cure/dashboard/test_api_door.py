"""What other software may not do to the door: ask without end, send without end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from api_support import V1, Office, office

from cure.dashboard.api import api
from cure.dashboard.asked import MOST_BYTES
from cure.dashboard.pace import Pace
from deploy.web import application
from shared.models.base import MINUTE_MS


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as found:
        yield found


def test_no_body_is_read_further_than_any_of_ours_whoever_sends_it(here: Office) -> None:
    long = b'{"pour": "' + b"x" * MOST_BYTES + b'"}'
    for token in (None, "guessed", here.token("act")):
        headers = {"Content-Type": "application/json", "Idempotency-Key": "long"}
        answer = here.ask("POST", f"{V1}/acts/stop", token, content=long, headers=headers)
        assert (answer.status_code, answer.headers["content-type"]) == (413, "application/problem+json")


def test_one_person_s_software_waits_when_it_asks_too_often_but_never_for_stop(here: Office) -> None:
    slow = replace(here, app=application([api(replace(here.parts, pace=Pace(3)))]))
    token, second, other = slow.token("read"), slow.token("act"), slow.token("read", person="crew")
    # By the person, however many tokens stand for them.
    found = [slow.ask("GET", f"{V1}/me", one) for one in (token, second, token, token)]
    assert [answer.status_code for answer in found] == [200, 200, 200, 429]
    assert (found[-1].headers["Retry-After"], found[-1].json()["status"]) == ("20", 429)
    assert slow.ask("GET", f"{V1}/me", other).status_code == 200
    assert slow.do("acts/stop", {"pour": "2-b1-p1", "why": "crack"}, token=token).status_code == 200
    slow.clock.set(slow.clock.now() + MINUTE_MS)
    assert slow.ask("GET", f"{V1}/me", token).status_code == 200
