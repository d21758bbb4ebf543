"""The cautions of a record, in the words of the messages. Pure."""

from __future__ import annotations

from typing import Final

from shared import units
from shared.catalogue import ENGLISH, Catalogue
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import PERMITS, Message

OWN: Final = (STRIP, WALK, LOAD)
"""Operations with cautions of their own."""


def cautions(message: Message, words: Catalogue, first: units.System, last: str) -> tuple[str, ...]:
    """Return all cautions of a record.

    Args:
        message: what was decided.
        words: of the messages.
        first: which units stand first.
        last: the caution that stands on everything.
    """
    say_it = words[ENGLISH].say
    if message.kind not in PERMITS:
        own = message.subject if message.subject in OWN else "all"
        return (say_it(f"shut-{own}"), last)
    shut, kpa = message.facts.get("not_released", ()), message.facts.get("load_kpa")
    load = None if kpa is None else units.shown(float(kpa), "kPa", first=first, limit=False)
    each = [say_it(f"caution-{operation}") for operation in (STRIP, WALK)]
    each += [say_it(f"shut-{operation}") for operation in OWN if operation in shut]
    each += [] if load is None else [say_it("caution-load", load=load)]
    return (*each, last)
