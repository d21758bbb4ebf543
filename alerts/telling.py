"""A message with its facts at hand, in the reader's language, as the words need it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from alerts.facts import Facts
from alerts.gsm import Part, shortened
from alerts.hours import long_hour, short_hour
from shared import units
from shared.catalogue import Voice
from shared.models.base import THE_SITE, Ms
from shared.models.messages import Message

_LONGEST_OPERATION: Final = 24
_SAID_ALREADY: Final = ("not:", "excluded:", "except:")
"""How an engineer may begin the exclusions; the text says it in its own words."""


def slug(name: str) -> str:
    """Return a name as it stands in the id of a message."""
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")


@dataclass(frozen=True, slots=True)
class Telling:
    """A message, or a row of one, with its facts at hand."""

    message: Message
    facts: Facts
    voice: Voice

    def say(self, key: str, /, **said: str | int) -> str:
        """Return words of the reader's language."""
        return self.voice.say(key, **said)

    def part(self, key: str, rank: int = 0, /, *, may_go: bool = False, **said: str | int) -> Part:
        """Return a piece of a short text; `may_go`: it is left out when there is no room."""
        return Part((*self.voice.wordings(key, **said), *(("",) if may_go else ())), rank)

    def text(self, key: str) -> str:
        """Return a fact as a line: a sentence of the evidence in the reader's language where it is known."""
        said = self.facts.text(key, "")
        return self.voice.known(said) if said else self.unknown

    def listed(self, key: str, empty: str = "not-known") -> str:
        """Return the lines of a list with commas between; `empty`: the words for an empty one."""
        return ", ".join(map(self.voice.known, self.facts.items(key))) or self.say(empty)

    def shown(self, key: str, unit: units.Unit, *, limit: bool) -> str:
        """Return a number with its unit in both systems."""
        number = self.facts.number(key)
        return self.unknown if number is None else units.shown(number, unit, first=self.first, limit=limit)

    def long(self, ms: Ms | None, *, up: bool = False) -> str:
        """Return an hour as bodies show it."""
        return long_hour(ms, self.zone, self.voice, up=up)

    def short(self, ms: Ms | None, *, up: bool = False) -> str:
        """Return an hour as short texts show it."""
        return short_hour(ms, self.zone, self.voice, up=up)

    def named(self, operation: str) -> str:
        """Return the words for an operation; one of the site's own is said as it is."""
        key = f"operation-{slug(operation)}"
        return self.say(key) if self.voice.has(key) else shortened(operation, _LONGEST_OPERATION)

    @property
    def unknown(self) -> str:
        """The words for what lacks."""
        return self.say("not-known")

    @property
    def operation(self) -> str:
        """The operation, or "" for the whole pour."""
        return self.facts.text("operation", "")

    @property
    def what(self) -> str:
        """The words for the operation, or for the whole pour."""
        return self.named(self.operation) if self.operation else self.say("operation-whole")

    @property
    def exclusions(self) -> str:
        """Where in the bay nothing is released, in the engineer's words; "" only where the engineer said "none"."""
        said = self.facts.text("exclusions", "")
        if said.casefold() == "none":
            return ""
        for beginning in _SAID_ALREADY:
            if said.casefold().startswith(beginning):
                said = said[len(beginning) :].strip()
                break
        return said or self.unknown

    @property
    def others_not_released(self) -> tuple[str, ...]:
        """The other operations of the pour that are not released."""
        return self.operations(o for o in self.facts.items("not_released") if o != self.operation)

    def operations(self, names: Iterable[str]) -> tuple[str, ...]:
        """Return the words for several operations, each once."""
        return tuple(map(self.named, dict.fromkeys(names)))

    @property
    def load(self) -> str:
        """The construction load in words; a limit for people is rounded down."""
        load = self.shown("load_kpa", "kPa", limit=False)
        return self.unknown if self.facts.number("load_kpa") is None else self.say("at-most", load=load)

    @property
    def load_alone(self) -> str:
        """The construction load in the site's unit, without the other one."""
        return self.shown("load_kpa", "kPa", limit=False).partition(" (")[0]

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

    @property
    def of_site(self) -> bool:
        """Whether it is about the whole site."""
        return self.message.pour == THE_SITE
