"""A message as it came in."""

from __future__ import annotations

from dataclasses import dataclass

from ingest.topics import Way
from shared.models.base import Ms


@dataclass(frozen=True, slots=True)
class Incoming:
    """One message as the broker gave it."""

    topic: str
    payload: bytes
    received_ms: Ms | None = None
    """When it first reached us; None: when it is taken. A message that waited for a failing store is judged by the
    first hour, or a time in the future would ripen while it waits."""
    may_have_waited: bool = False
    """At the broker: it was kept there, or sent before, or came at a QoS at which brokers keep what cannot be sent."""
    way: Way | None = None
    """None: its topic says how it is read."""
