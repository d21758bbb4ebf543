from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, get_args

import pytest
from server_support import TEXT

from alerts.channels import BEGUN, CHANNELS, Answer, accepted, never, not_now, unsure
from alerts.sender import attempt
from shared.models.messages import OutcomeKind
from shared.models.people import EmailAddress, InboxFile, ReachUrl, WebhookUrl


def run(job: Any) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-P", "-m", "alerts.sender"]
    line = json.dumps(job) + "\n"
    return subprocess.run(command, input=line, capture_output=True, text=True, timeout=60, check=False)


def inbox_job(folder: Path, **changes: Any) -> Any:
    text = {"subject": TEXT.subject, "body": TEXT.body, "short": TEXT.short}
    to = {"kind": "inbox", "file": "inbox.jsonl"}
    job: dict[str, Any] = {"to": to, "server": {}, "text": text, "site": "m", "data": str(folder)}
    job |= {"number": 42, "numbers": [42], "recipient": "crew"}
    return {**job, "deadline_s": 5, "parent": os.getpid(), **changes}


def test_every_address_has_its_channel_and_every_channel_its_address() -> None:
    kinds = {get_args(m.model_fields["kind"].annotation)[0] for m in (EmailAddress, InboxFile, ReachUrl, WebhookUrl)}
    assert set(CHANNELS) == kinds


def test_the_answers_are_the_outcomes() -> None:
    assert {a("").kind for a in (accepted, not_now, never, unsure)} == {kind.value for kind in OutcomeKind}


def test_it_says_that_it_begins_and_then_how_it_went(tmp_path: Path) -> None:
    done = run(inbox_job(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    begun, answer = done.stdout.splitlines()
    assert begun == BEGUN
    assert json.loads(answer) == {"kind": "accepted", "text": "appended"}


@pytest.mark.row("A4")
def test_a_sender_whose_service_has_ended_already_sends_nothing(tmp_path: Path) -> None:
    done = run(inbox_job(tmp_path, parent=1))
    assert json.loads(done.stdout)["kind"] == "not now"
    assert list(tmp_path.iterdir()) == []


def test_a_channel_that_nobody_wrote_is_refused(tmp_path: Path) -> None:
    assert attempt(inbox_job(tmp_path, to={"kind": "pigeon"})) == Answer("never", "no such channel")


def test_a_channel_that_breaks_leaves_the_outcome_unknown_and_tells_only_the_kind_of_break(tmp_path: Path) -> None:
    broken = attempt(inbox_job(tmp_path, text={"subject": object()}))
    assert broken == Answer("unsure", "the channel broke: TypeError")


@pytest.mark.parametrize("kind", sorted(CHANNELS))
def test_a_sender_starts_without_what_it_does_not_need(kind: str) -> None:
    code = f"import sys, alerts.sender, alerts.channels.{kind}; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert {"pydantic", "numpy", "sqlalchemy", "shared", "shared.models", "asyncio"} & set(loaded) == set()
