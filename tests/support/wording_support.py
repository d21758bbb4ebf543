"""Messages with the longest names, with US units, and with next to no facts."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from alerts_support import make_told

from alerts.wording import words
from shared.models.base import PourId
from shared.models.messages import Message, MessageKind, Text

OPERATIONS = ("strip", "walk", "load", "", "uncover")
LONG: dict[str, Any] = {
    "site": "The longest name of a house that anybody could think of " * 3,
    "site_id": "s" * 30 + "-9",
    "floor": "mezzanine between the second and the third floor, east wing",
    "bay": "b" * 30 + "-7",
    "pour": "p" * 46 + "-3",
    "zone": "America/St_Johns",
    "sensor": "l" * 32 + ".12",
    "owner": "e" * 32,
    "bays": [f"{'b' * 30}-{n}" for n in range(9)],
    "exclusions": "grid 7 edge, stair opening, the two panels beside the hoist and the whole of the cantilever",
    "load_kpa": 19.97,
}


def told(kind: MessageKind, subject: str, no: int = 41, **facts: Any) -> Message:
    message = make_told(kind, no, subject=subject, **facts)
    return replace(message, pour=PourId(str(message.facts["pour"])))


@cache
def texts(kind: MessageKind, operation: str, done: bool) -> list[Text]:
    plain = told(kind, operation, done=done)
    long = told(kind, operation, done=done, no=9_999_999, **LONG)
    us = told(kind, operation, done=done, units="US", exclusions="none", not_released=[])
    bare = replace(plain, facts={"operation": operation})
    return [words(m, repeat=repeat) for m in (plain, long, us, bare) for repeat in (False, True)]
