"""How a worded message leaves: in a child process that can be killed, or into a list.

A transport answers with an outcome and never raises for anything that the other side does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from alerts.channels import BEGUN
from shared.models.base import Json, Ms, RecipientId
from shared.models.messages import Outcome, OutcomeKind, Text
from shared.models.people import Address, EmailAddress, ReachUrl, WebhookUrl, is_allowed
from shared.models.setup import Setup

DEFAULT_DEADLINE_S: Final = 20.0
_POLL_S: Final = 0.5


@dataclass(frozen=True, slots=True)
class Attempt:
    """One text on its way: about one message, or about several that are told together."""

    text: Text
    address: Address
    numbers: tuple[int, ...]
    """Of the messages, ascending."""
    recipient: RecipientId
    channel: int
    at_ms: Ms
    """Site time at which it was begun."""

    @property
    def number(self) -> int:
        """The (first) message's number."""
        return self.numbers[0]

    @property
    def key(self) -> str:
        """The same for every attempt of the same messages to this recipient through this channel, and no other."""
        return f"{'+'.join(map(str, self.numbers))}.{self.recipient}.{self.channel}"


class Transport(Protocol):
    """Tries once to hand a text over."""

    @property
    def deadline_s(self) -> float:
        """Longest time that one attempt may take. [s]"""
        ...

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        """Try once; give up as soon as `still_true` says no."""
        ...


class RecordingTransport:
    """Keeps what it is given, in order, and accepts it: replay, and tests."""

    deadline_s = DEFAULT_DEADLINE_S

    def __init__(self) -> None:
        self.sent: list[Attempt] = []

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        if not still_true():
            return Outcome(OutcomeKind.NOT_NOW, "no longer true, not begun")
        self.sent.append(attempt)
        return Outcome(OutcomeKind.ACCEPTED, "recorded")


class ChildTransport:
    """Runs each attempt in a child of its own, killed at the deadline: a call that is given up cannot deliver later."""

    def __init__(self, setup: Setup, deadline_s: float | None = None) -> None:
        self._setup = setup
        email = setup.site.channel.email
        default = float(email.deadline_s) if email else DEFAULT_DEADLINE_S
        self.deadline_s = default if deadline_s is None else deadline_s

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        if not still_true():
            return Outcome(OutcomeKind.NOT_NOW, "no longer true, not begun")
        address, hosts = attempt.address, self._setup.site.channel.webhook_hosts
        if isinstance(address, WebhookUrl) and not is_allowed(address.url, hosts):
            return Outcome(OutcomeKind.NEVER, "its host is not among webhook_hosts")
        job = json.dumps(self._job(attempt)) + "\n"
        try:
            # -P: a folder named "alerts" where the service was started must not be run in its place.
            child = subprocess.Popen(
                [sys.executable, "-P", "-m", "alerts.sender"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                # Ctrl-C in a terminal reaches every process of the service's group at once.
                process_group=0,
            )
        except OSError as error:
            return Outcome(OutcomeKind.NOT_NOW, f"the sender could not be started: {error.strerror}")
        with child:
            return self._watch(child, job, still_true)

    def _watch(self, child: subprocess.Popen[str], job: str, still_true: Callable[[], bool]) -> Outcome:
        end = time.monotonic() + self.deadline_s
        why = "killed at its deadline"
        given: str | None = job
        try:
            while (left := end - time.monotonic()) > 0:
                try:
                    answer, _ = child.communicate(given, timeout=min(_POLL_S, left))
                    return outcome_of(answer)
                except subprocess.TimeoutExpired:
                    given = None
                if not still_true():
                    why = "killed: no longer true"
                    break
        finally:
            # Also when `still_true` raises: an attempt that nobody watches must not go on.
            child.kill()
        answer, _ = child.communicate()
        return outcome_of(answer, why)

    def _job(self, attempt: Attempt) -> Mapping[str, Json]:
        site, folder, address = self._setup.site, Path(self._setup.folder), attempt.address
        server: dict[str, Json] = {}
        if isinstance(address, EmailAddress) and site.channel.email is not None:
            server = site.channel.email.model_dump(mode="json")
            if site.channel.email.password_file is not None:
                server["password_file"] = str(folder / site.channel.email.password_file)
        to = address.model_dump(mode="json")
        if isinstance(address, WebhookUrl):
            to["secret_file"] = str(folder / address.secret_file)
        if isinstance(address, ReachUrl):
            to["url_file"] = str(folder / address.url_file)
        text = attempt.text
        return {
            "to": to,
            "server": server,
            "text": {"subject": text.subject, "body": text.body, "short": text.short},
            "html": text.html,
            "number": attempt.number,
            "numbers": attempt.numbers,
            "recipient": attempt.recipient,
            "key": attempt.key,
            "at_ms": attempt.at_ms,
            "site": site.site.id,
            "data": str(folder / site.site.data),
            "deadline_s": self.deadline_s,
            "parent": os.getpid(),
        }


def outcome_of(answer: str, otherwise: str = "the sender died") -> Outcome:
    """Return the outcome in what a sender said; an answer that is not whole leaves the outcome unknown."""
    began, newline, rest = answer.partition("\n")
    begun = began == BEGUN and newline == "\n"
    try:
        said = json.loads(rest if begun else answer)
        return Outcome(OutcomeKind(said["kind"]), str(said["text"]))
    except (ValueError, KeyError, TypeError):
        if not answer:
            return Outcome(OutcomeKind.NOT_NOW, f"{otherwise}, before it began")
        return Outcome(OutcomeKind.UNSURE, otherwise)
