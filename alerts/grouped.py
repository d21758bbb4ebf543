"""Several permits of one kind, told as one: the strictest limit of any stands for all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from alerts.facts import Facts
from alerts.gsm import Part
from alerts.phrase import FIRST, Phrase
from alerts.telling import Telling, slug
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import PERMITS


@dataclass(frozen=True, slots=True)
class Grouped:
    """The tellings of several messages, by number."""

    tellings: tuple[Telling, ...]

    def __post_init__(self) -> None:
        same = {(t.message.kind, t.facts.text("site_id", "")) for t in self.tellings}
        if len(same) != 1 or self.tellings[0].message.kind not in PERMITS:
            raise ValueError("one text for several messages: permits of one kind and site only")

    @property
    def bays(self) -> Mapping[str, tuple[str, ...]]:
        """Bays by operation, in the order of the numbers."""
        bays: dict[str, dict[str, None]] = {}
        for t in self.tellings:
            bays.setdefault(t.operation, {})[t.facts.text("bay", t.unknown)] = None
        return {operation: tuple(names) for operation, names in bays.items()}

    @property
    def merged(self) -> Telling:
        """One telling for all: the lowest load, every exclusion, all that is shut anywhere, the earliest end."""
        loads = [t.facts.number("load_kpa") for t in self.tellings if t.operation == LOAD]
        known = [load for load in loads if load is not None]
        until = [t.message.valid_until_ms for t in self.tellings if t.message.valid_until_ms is not None]
        first, bays = self.tellings[0], self.bays
        shut = dict.fromkeys(o for t in self.tellings for o in t.facts.items("not_released"))
        told_of_all = set(bays) if self._uniform else set()
        facts = {
            **first.facts.json,
            "operation": next((o for o in (STRIP, WALK) if o in bays), next(iter(bays))),
            "load_kpa": min(known) if known and len(known) == len(loads) else None,
            "exclusions": "; ".join(t.exclusions for t in self.tellings if t.exclusions) or "none",
            "not_released": [o for o in shut if o not in told_of_all],
        }
        message = replace(first.message, valid_until_ms=min(until, default=None))
        return Telling(message, Facts(facts), first.voice)

    @property
    def _uniform(self) -> bool:
        """Whether every operation is about the same bays."""
        return len({frozenset(names) for names in self.bays.values()}) == 1

    def limits(self, phrase: Phrase) -> tuple[Part, ...]:
        """Return the limits of all; which bay is excluded where stands with that bay, not in front of all of them."""
        if not phrase.limits:
            return ()
        *limits, apart = phrase.limits
        if LOAD in self.bays and len(self.bays) > 1:
            limits = [self.tellings[0].part("limit-each")]
        excluded = any(t.exclusions for t in self.tellings)
        return (*limits, Part(apart.wordings[1:], FIRST) if excluded else apart)

    @property
    def matter(self) -> Part:
        """What it is about: each operation with its bays, or how many bays or permissions there are."""
        t, bays = self.tellings[0], self.bays
        if self._uniform:
            names = next(iter(bays.values()))
            what = self._matter(", ".join(map(self._what, bays)))
            listed = t.voice.wordings("bays", bays=", ".join(names), count=len(names))
            return Part(tuple(f"{what} {names}" for names in listed), FIRST)
        told = "; ".join(f"{self._what(o)} {t.say('bays', bays=', '.join(b), count=len(b))}" for o, b in bays.items())
        many = t.voice.wordings("together-many", count=len(self.tellings))
        return Part(tuple(map(self._matter, (told, *many))), FIRST)

    def _matter(self, what: str) -> str:
        t = self.tellings[0]
        return t.say(f"{slug(t.message.kind.name)}.matter", what=what)

    def _what(self, operation: str) -> str:
        t = self.tellings[0]
        return t.named(operation) if operation else t.what

    def numbers(self, *, repeat: bool) -> tuple[str, ...]:
        """Return the numbers in words, from long to short: every one with its check code, or at least the first."""
        plain, coded = self._counted(coded=False), self._counted(coded=True)
        said = (", ".join(coded), ", ".join((coded[0], *plain[1:])))
        key, more = "repeats" if repeat else "numbers", len(plain) - 1
        voice = self.tellings[0].voice
        every = [voice.say(key, numbers=numbers, first=coded[0], more=more) for numbers in said]
        return (*every, *voice.wordings(key, numbers=said[1], first=coded[0], more=more)[1:])

    def plainly(self, *, repeat: bool) -> str:
        """Return all the numbers in words."""
        numbers = self._counted(coded=False)
        key = "repeats" if repeat else "numbers"
        return self.tellings[0].say(key, numbers=", ".join(numbers), first=numbers[0], more=len(numbers) - 1)

    def _counted(self, *, coded: bool) -> list[str]:
        return [_number(t, coded=coded) for t in self.tellings]


def _number(telling: Telling, *, coded: bool) -> str:
    no, code = str(telling.message.no), telling.message.code
    return telling.say("with-code", no=no, code=code) if coded and code else no
