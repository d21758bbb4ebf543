"""A message with its facts at hand, as the words need it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from alerts.facts import UNKNOWN, Facts
from alerts.gsm import shortened
from shared import units
from shared.models.base import Ms
from shared.models.messages import Message

_LONGEST_OPERATION: Final = 24
_SAID_ALREADY: Final = ("not:", "excluded:", "except:")
"""How an engineer may begin the exclusions; the text says it in its own words."""


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
        return shortened(self.operation, _LONGEST_OPERATION) or "whole pour"

    @property
    def exclusions(self) -> str:
        """Where in the bay nothing is released, in the engineer's words; "" only where the engineer said "none"."""
        said = self.facts.text("exclusions")
        if said.casefold() == "none":
            return ""
        for beginning in _SAID_ALREADY:
            if said.casefold().startswith(beginning):
                return said[len(beginning) :].strip() or UNKNOWN
        return said

    @property
    def others_not_released(self) -> tuple[str, ...]:
        """The other operations of the pour that are not released."""
        return tuple(o for o in self.facts.items("not_released") if o != self.operation)

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
