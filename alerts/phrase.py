"""What differs by kind of message, and what limits a permission."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from alerts.gsm import Part
from alerts.telling import Telling
from shared.models.base import LOAD, STRIP, WALK

FIRST, SECOND, LABELS, THIRD, FOURTH = range(1, 6)
"""Which part of a short text gets the room first, after the names."""
MANY: Final = 48
"""Longest list of bays in a subject or a short text."""


@dataclass(frozen=True, slots=True)
class Block:
    """Lines under a heading."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Phrase:
    """The words that differ by kind.

    The verdict stands first and carries its negation, and what limits a permission stands before what it permits: no
    beginning of a text reads as a permission that it is not, or as a wider one than it is.
    """

    verdict: str
    matter: str
    """What it is about, up to the bay."""
    limits: tuple[Part, ...] = ()
    """Stand between the two."""
    lines: tuple[str, ...] = ()
    blocks: tuple[Block, ...] = ()
    endings: tuple[Part, ...] = ()
    """Of the short text, after its number."""


def limits(telling: Telling) -> tuple[Part, ...]:
    """Return what limits a permission: the load, and the places where it does not hold."""
    excluded = telling.exclusions
    apart = telling.part("limit-apart", FIRST, where=excluded) if excluded else Part(("",))
    return (*load_limits(telling), apart)


def load_limits(telling: Telling) -> tuple[Part, ...]:
    """Return what limits the load."""
    if telling.operation == LOAD:
        return telling.part("limit-load", load=telling.load_alone), telling.part("limit-spread", THIRD)
    return (telling.part("limit-none"),) if telling.operation in {STRIP, WALK} else ()


def optional(telling: Telling, key: str, fact: str, ending: str, rank: int) -> Part:
    """Return an ending with a fact in it, which may be left out; none when the fact lacks."""
    if not telling.facts.text(fact, ""):
        return Part(("",))
    return telling.part(ending, rank, may_go=True, **{key: telling.text(fact)})
