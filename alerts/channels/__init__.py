"""A job comes in, an answer goes out: one module a channel. Standard library only, so that a child starts fast."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple, TypeAlias

CHANNELS: Final[dict[str, str]] = {
    "email": "alerts.channels.email:send",
    "inbox": "alerts.channels.inbox:send",
    "reach": "alerts.channels.reach:send",
    "webhook": "alerts.channels.webhook:send",
}
"""By the `kind` of an address. A new channel is one module and one line."""

BEGUN: Final = "begun"
"""The line before the answer, written before anything can leave: a child that died without it has sent nothing."""

Job: TypeAlias = Mapping[str, Any]
"""What `alerts.transport` writes for one attempt: to, server, text, html, numbers, recipient, key, at_ms, ..."""


class Answer(NamedTuple):
    """The outcome of one attempt, in the values of `OutcomeKind`."""

    kind: str
    text: str


def accepted(text: str) -> Answer:
    """Return: the other side said yes."""
    return Answer("accepted", text)


def not_now(text: str) -> Answer:
    """Return: known not accepted, worth another try."""
    return Answer("not now", text)


def never(text: str) -> Answer:
    """Return: known not accepted, for good."""
    return Answer("never", text)


def unsure(text: str) -> Answer:
    """Return: begun, outcome unknown."""
    return Answer("unsure", text)
