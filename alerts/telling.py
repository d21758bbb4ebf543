"""A message with its facts at hand, as the words need it."""

from __future__ import annotations

from dataclasses import dataclass

from alerts.facts import Facts
from shared import units
from shared.models.base import Ms
from shared.models.messages import Message


@dataclass(frozen=True, slots=True)
class Telling:
    """A message with its facts at hand."""

    message: Message
    facts: Facts

    @property
    def operation(self) -> str:
        """The operation, or "" for the whole pour."""
        return self.facts.text("operation", "")

    @property
    def what(self) -> str:
        """The operation, or words for the whole pour."""
        return self.operation or "whole pour"

    @property
    def zone(self) -> str:
        """The site's time zone."""
        return self.facts.text("zone", "UTC")

    @property
    def hour_ms(self) -> Ms:
        """The hour of the event."""
        hour = self.facts.ms("hour_ms")
        return self.message.at_ms if hour is None else hour

    @property
    def first(self) -> units.System:
        """Which units stand first."""
        return "US" if self.facts.text("units", "SI") == "US" else "SI"
