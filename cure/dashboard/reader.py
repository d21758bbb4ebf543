"""Whoever reads a page: their words, their units, the site's hours. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from shared import units
from shared.catalogue import Voice
from shared.models.base import MINUTE_MS, Ms
from shared.models.decisions import Finding
from shared.shifts import day_of

NEAR_DAYS: Final = 6
"""Fewer days away a weekday is enough of a date."""


MINUS: Final = "\N{MINUS SIGN}"
"""Of an offset: at a hyphen a line would break."""

_TEMPERATURES: Final = re.compile(r"(-?\d+(?:\.\d+)?)(?: (to|à|a) (-?\d+(?:\.\d+)?))? (?:degC|°C)(?! \()")
"""One, or from one to another, as checks say them in each language; not those with their other unit already."""


@dataclass(frozen=True, slots=True)
class Reader:
    """What a page is worded by."""

    voice: Voice
    """The pages' own words."""
    evidence: Voice
    """The words of findings, holds and reasons: those of the messages."""
    first: units.System
    """The system of units that stands first."""
    zone: str

    @property
    def language(self) -> str:
        """Of the page."""
        return self.voice.language

    def say(self, key: str, /, **said: str | int) -> str:
        """Return the words of a key."""
        return self.voice.say(key, **said)

    def worded(self, key: str, attribute: str) -> str:
        """Return the words of a key for one case of it, else its general ones."""
        named = f"{key}.{attribute.replace(' ', '-')}"
        return self.voice.say(named if self.voice.has(named) else key)

    def operation(self, operation: str) -> str:
        """Return an operation's name; the site's own are said as they are written."""
        key = f"operation-{operation.replace(' ', '-')}"
        return self.say(key) if self.voice.has(key) else operation

    def known(self, sentence: str) -> str:
        """Return a sentence of the evidence in this language, where it is known."""
        return self.evidence.known(sentence)

    def checked(self, sentence: str) -> str:
        """Return a sentence of a sensor's check in this language, its temperatures in the reader's units."""

        def shown(found: re.Match[str]) -> str:
            ends = [self.number(float(end), "degC") for end in found.group(1, 3) if end is not None]
            return f" {found.group(2)} ".join(ends)

        return _TEMPERATURES.sub(shown, self.known(sentence))

    def finding(self, finding: Finding) -> str:
        """Return the sentence of a finding, as message and record say it."""
        return self.known(finding.explain(self.first))

    def number(self, value: float | None, unit: units.Unit, *, limit: bool = False) -> str:
        """Return a value with its unit, the other system beside it."""
        return self.known(units.shown(value, unit, first=self.first, limit=limit))

    def hour(self, at_ms: Ms, now_ms: Ms) -> str:
        """Return an hour of the site as short as it can be read: "05:17", "Thu 05:17", "12 Nov 05:17"."""
        at = self._local(at_ms)
        time = f"{at:%H:%M}"
        # By days alone: what was worded today stays true today.
        days = abs((day_of(now_ms, self.zone) - at.date()).days)
        if days == 0:
            return time
        if days < NEAR_DAYS:
            return self.say("hour-of-day", day=self._nth("days", at.weekday()), time=time)
        return self.say("hour-of-date", date=str(at.day), month=self._nth("months", at.month - 1), time=time)

    def clock(self, at_ms: Ms) -> str:
        """Return the time of day on site, to the second."""
        return f"{datetime.fromtimestamp(at_ms // 1000, tz=UTC).astimezone(ZoneInfo(self.zone)):%H:%M:%S}"

    def whole_hour(self, at_ms: Ms) -> str:
        """Return an hour with its date and offset: nobody takes it for another's."""
        at = self._local(at_ms)
        return self.say(
            "hour-whole",
            day=self._nth("days", at.weekday()),
            date=str(at.day),
            month=self._nth("months", at.month - 1),
            year=str(at.year),
            time=f"{at:%H:%M}",
            offset=f"{at:%z}"[:3].replace("-", MINUS) + ":" + f"{at:%z}"[3:5],
        )

    def whole_day(self, day: date) -> str:
        """Return a day of the site with its weekday."""
        named, month = self._nth("days", day.weekday()), self._nth("months", day.month - 1)
        return self.say("day-whole", day=named, date=str(day.day), month=month, year=str(day.year))

    def _local(self, at_ms: Ms) -> datetime:
        return datetime.fromtimestamp(at_ms // MINUTE_MS * 60, tz=UTC).astimezone(ZoneInfo(self.zone))

    def _nth(self, key: str, n: int) -> str:
        return self.say(key).split()[n]
